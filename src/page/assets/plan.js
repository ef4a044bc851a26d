// Plan view: the model from above, nose up the sheet, boom down. The blade to be read is drawn heavy at the place
// where it must stand; a turn of the head is an arrow, the shorter way, from where the blade is now.
// Station 0 lies over the boom and grows in the direction of rotation: anticlockwise from above, 90 is on the right.
import { $, arc, at, bladeIndex, bladeLetter, head, polar, svg, write } from "./draw.js";
import { tail } from "./tailplan.js";

const R = 150; // disc
const CHORD = 17;
const ROOT = 24;

/** Paper angle of a station. */
const paper = (station, turn) => -90 + turn * station;

/** A blade lying along +x from the hub, its leading edge up the sheet when the rotor turns anticlockwise. */
function blade(angle, turn, kind) {
  const lead = -turn * CHORD * 0.34; // the feathering axis lies about a third of the chord behind the leading edge
  const trail = turn * CHORD * 0.66;
  const outline = `M${ROOT} ${lead * 0.55}L${ROOT + 14} ${lead}H${R - 3}Q${R} ${lead} ${R} ${lead + turn * 4}V${trail}H${ROOT + 22}L${ROOT} ${trail * 0.35}Z`;
  return svg(
    "g",
    { class: `blade ${kind}`, transform: `rotate(${-angle})` },
    svg("path", { class: "outline", d: outline }),
    svg("path", { class: "edge", d: `M${ROOT + 14} ${lead}H${R - 3}` }),
    svg("path", { class: "thin", d: `M${ROOT - 8} 0H${R - 6}` }),
  );
}

/** The clip across the blade, its point on the side that the sensor's chord axis looks to. */
function clip(angle, turn, forward) {
  const side = (forward ? -1 : 1) * turn;
  return svg(
    "g",
    { class: "clip", transform: `rotate(${-angle}) translate(${R * 0.62} 0)` },
    svg("path", { d: `M-11 ${-side * 17}H11V${side * 14}L0 ${side * 25}L-11 ${side * 14}Z` }),
    svg("path", { class: "thin", d: `M0 ${-side * 10}V${side * 15}` }),
  );
}

function fuselage() {
  return svg(
    "g",
    { class: "body" },
    svg("path", { d: "M-5 62L-4 226H4L5 62" }),
    svg("path", { d: "M0-104C17-98 27-66 27-30C27 8 20 44 8 66H-8C-20 44-27 8-27-30C-27-66-17-98 0-104Z" }),
    svg("path", { class: "thin", d: "M-23-52C-14-68 14-68 23-52M-25-8H25M0-104V-64" }),
    svg("path", { d: "M-4 196L-25 203V208L-4 206ZM4 196L25 203V208L4 206Z" }),
    svg("path", { d: "M4 222H13M13 203V241" }),
  );
}

/** A blade's letter, beside its tip on the trailing side, where nothing is drawn over it. */
function letter(angle, turn, text, kind) {
  const [x, y] = polar(R - 14, angle - turn * 11);
  return svg("text", { class: `letter ${kind}`, x, y: y + 5, "text-anchor": "middle" }, text);
}

function main(plan, setup) {
  const turn = setup.rotation === "clockwise" ? -1 : 1;
  const count = Math.max(2, setup.main_blades ?? 2);
  const index = Math.max(0, bladeIndex(plan.blade));
  const placed = plan.station_deg !== null && plan.station_deg !== undefined;
  const station = placed ? plan.station_deg : 90;
  const place = (k) => paper(station + ((k - index) * 360) / count, turn);
  const others = [...Array(count).keys()].filter((k) => k !== index);
  const heavy = paper(station, turn);
  const carriers = plan.sensors.length ? plan.sensors : [plan.clip_blade ?? plan.blade ?? "A"];
  const clipped = carriers.map(bladeIndex).filter((k) => k >= 0 && k < count);
  const parts = [
    svg("circle", { class: "disc", r: R }),
    svg("path", { class: "centre", d: `M0 ${-R - 12}V${R - 40}M${-R - 12} 0H${R + 12}` }),
    fuselage(),
    ...[0, 90, 180, 270].map((s) => tick(paper(s, turn), s)),
    ...others.map((k) => blade(place(k), turn, "other")),
    blade(heavy, turn, "read"),
    svg("circle", { class: "hub", r: 11 }),
    svg("circle", { class: "hub-bolt", r: 2.5 }),
    ...others.map((k) => letter(place(k), turn, bladeLetter(k), "other")),
    letter(heavy, turn, plan.blade ?? "A", "read"),
  ];
  parts.push(...clipped.map((k) => clip(place(k), turn, plan.clip !== "reversed")));
  parts.push(...(plan.turn ? turning(plan.turn.by_deg, heavy, turn) : sense(turn)));
  return svg(
    "svg",
    { viewBox: "-196 -192 392 440", role: "img", "aria-label": spoken(plan, setup) },
    ...parts,
  );
}

function tick(angle, station) {
  const [x, y] = polar(R + 28, angle);
  return svg(
    "g",
    { class: "station" },
    svg("path", { d: `M${at(polar(R, angle))}L${at(polar(R + 9, angle))}` }),
    svg("text", { x: station === 0 ? 18 : x, y: station === 0 ? R + 36 : y + 5, "text-anchor": "middle" }, `${station}`),
  );
}

/** The direction of rotation, when nothing has to be turned: a quiet arrow outside the disc, past the nose. */
function sense(turn) {
  const from = 90 - turn * 34;
  const to = 90 - turn * 12;
  const tip = polar(R + 18, to);
  return [svg("path", { class: "sense", d: arc(R + 18, from, to) + head(tip, to + turn * 90, 9) })];
}

/** The turn that is asked for: from where the blade is now, the shorter way, to where it must stand. */
function turning(by, heavy, turn) {
  const sweep = Math.min(330, Math.max(12, Math.abs(by)));
  const way = by < 0 ? -turn : turn;
  const from = heavy - way * (sweep - 10);
  const to = heavy - way * 8;
  const r = R + 14;
  return [svg("path", { class: "turn", d: arc(r, from, to) + head(polar(r, to), to + way * 88, 15) })];
}

function spoken(plan, setup) {
  const where = plan.station_deg === null || plan.station_deg === undefined ? "" : ` at ${plan.station_deg}° from the boom`;
  const move = plan.turn ? `; ${plan.turn.said}` : "";
  return `From above, rotor turning ${setup.rotation}: blade ${plan.blade}${where}, ${carried(plan)}${move}.`;
}

/** Where the clip is; or, with a sensor on each blade, where they all are. */
function carried(plan) {
  const said = (carrier) => (carrier === "tail" ? "the tail" : carrier);
  if (plan.sensors.length) return `sensors on ${plan.sensors.map(said).join(", ")}`;
  return plan.clip_blade ? `clip on blade ${plan.clip_blade}, ${plan.clip}` : `clip ${plan.clip}`;
}

function lines(plan) {
  const clip = carried(plan);
  const cable = plan.cable_turns
    ? `cable wound ${Math.abs(plan.cable_turns)} turn${Math.abs(plan.cable_turns) === 1 ? "" : "s"}`
    : null;
  const where =
    plan.rotor === "tail"
      ? plan.leading_edge && `leading edge ${plan.leading_edge}`
      : plan.station_deg !== null && plan.station_deg !== undefined && `${plan.station_deg}° from the boom`;
  return { key: [`blade ${plan.blade}`, where, clip].filter(Boolean).join(" · "), cable };
}

export class Plan {
  constructor() {
    this.drawn = "";
    const narrow = window.matchMedia("(max-width: 719px)");
    const fold = () => ($("plan-fold").open = !narrow.matches);
    narrow.addEventListener("change", fold);
    fold();
  }

  draw(sheet) {
    const { setup } = sheet;
    const plan = sheet.plan && { ...sheet.plan, sensors: (sheet.sensors ?? []).map((line) => line.carrier) };
    const key = JSON.stringify([plan, setup.rotation, setup.main_blades, setup.tail_blades]);
    if (!plan || key === this.drawn) return;
    this.drawn = key;
    write($("plan-title"), plan.rotor === "tail" ? "The tail, seen from its side" : "Where the blade stands");
    $("plan-drawing").replaceChildren(plan.rotor === "tail" ? tail(plan, setup) : main(plan, setup));
    const { key: words, cable } = lines(plan);
    write($("plan-key"), words);
    const said = [plan.turn?.said, cable].filter(Boolean).join("; ");
    write($("plan-said"), said ? said[0].toUpperCase() + said.slice(1) + "." : "");
  }
}
