// The tail seen from its side, for the steps that read it: the blade with the clip lies level, and its leading edge
// looks up or down. Only that matters to the reading, so only that is drawn heavy.
import { arc, head, polar, svg } from "./draw.js";

const R = 118;

function blade(up, reach, kind) {
  // Drawn along +x; `reach` −1 turns it to the boom's side. Half a turn of the hub takes the edge from up to down.
  const lead = up ? -9 : 9;
  const trail = up ? 17 : -17;
  const x = (v) => v * reach;
  return svg(
    "g",
    { class: `blade ${kind}` },
    svg("path", { class: "outline", d: `M${x(18)} ${lead * 0.5}L${x(30)} ${lead}H${x(R - 4)}L${x(R)} ${lead * 0.5}V${trail}H${x(34)}L${x(18)} ${trail * 0.4}Z` }),
    svg("path", { class: "edge", d: `M${x(30)} ${lead}H${x(R - 4)}` }),
  );
}

export function tail(plan, setup) {
  const up = plan.leading_edge !== "down";
  const reach = up ? 1 : -1;
  const name = plan.blade ?? "A";
  const count = Math.max(2, setup.tail_blades ?? 2);
  const edge = up ? -1 : 1;
  const others = [...Array(count - 1).keys()].map((k) =>
    svg("g", { transform: `rotate(${(360 * (k + 1)) / count})` }, blade(up, reach, "other")),
  );
  const forward = plan.clip !== "reversed";
  const point = (forward ? edge : -edge) * 1;
  const clipX = reach * 72;
  const arrow = [reach * 104, edge * 42];
  return svg(
    "svg",
    {
      viewBox: "-200 -160 360 320",
      role: "img",
      "aria-label": `Tail from its side: blade ${name} level, leading edge ${up ? "up" : "down"}, clip ${plan.clip}.`,
    },
    svg("g", { class: "body" },
      svg("path", { d: "M-200-9L16-6V6L-200 9" }),
      svg("path", { d: "M-6-7L18-92H34L24 0L34 66H22L-4 7Z" }),
    ),
    svg("circle", { class: "disc", r: R }),
    svg("path", { class: "centre", d: `M${-R - 30} 0H${R + 30}` }),
    ...others,
    blade(up, reach, "read"),
    svg("circle", { class: "hub", r: 12 }),
    svg("circle", { class: "hub-bolt", r: 2.5 }),
    svg("g", { class: "clip", transform: `translate(${clipX} 4)` },
      svg("path", { d: `M-11 ${-point * 17}H11V${point * 15}L0 ${point * 26}L-11 ${point * 15}Z` })),
    svg("path", { class: "turn", d: `M${arrow[0]} ${edge * 16}V${arrow[1]}` + head(arrow, up ? 90 : -90, 13) }),
    svg("text", { class: "letter read", x: arrow[0], y: edge * 60 + 5, "text-anchor": "middle" }, up ? "edge up" : "edge down"),
    svg("text", { class: "letter read", x: reach * (R - 8), y: -edge * 32 + 5, "text-anchor": "middle" }, name),
    plan.turn ? halfTurn(up) : null,
  );
}

function halfTurn(up) {
  const [from, to] = up ? [200, 352] : [20, 172];
  const r = R + 16;
  return svg("path", { class: "turn", d: arc(r, from, to) + head(polar(r, to), to + 88, 14) });
}
