// Section view: the blade cut square to its span, seen from the tip, tilting about its feathering axis. The chord line
// runs out to an arc graduated in true degrees; target and tolerance stand on it as a ray and a wedge, the neutral as
// a mark. A second drawing at ten times the scale shows the last degree, where the true wedge is thin as a pencil line.
import { $, arc, at, polar, profile, svg, set, write } from "./draw.js";
import { Glide } from "./glide.js";

const W = 1000;
const TALL = 470;
const LOW = 372; // a main blade's travel needs less height
const DETAIL = { x: 0, y: 0, r: 82, scale: 10 };

const toPath = (points, chord, pivot) =>
  points.map(([x, y], i) => `${i ? "L" : "M"}${((pivot - x) * chord).toFixed(1)} ${(-y * chord).toFixed(1)}`).join("");

/** The blade with its leading edge on the right of the feathering axis; mirrored where the rotor turns the other way. */
function bladeShape(chord, tail) {
  const { upper, lower } = profile(tail ? 0.15 : 0.12);
  const pivot = 0.32;
  return svg(
    "g",
    { class: "airfoil" },
    svg("path", { class: "outline", d: `${toPath([...upper, ...lower], chord, pivot)}Z` }),
    svg("path", { class: "thin", d: `M${(pivot - 1.03) * chord} 0H${pivot * chord}` }),
    svg("path", { class: "spar", d: `M${(pivot - 0.1) * chord} ${-0.052 * chord}V${0.052 * chord}` }),
    svg("g", { class: "clip", transform: `translate(${-0.2 * chord} ${-0.055 * chord})` },
      svg("path", { d: "M-34-9V-32H34V-9ZM-26-9V5M26-9V2" })),
    svg("circle", { class: "axis", r: 10 }),
    svg("circle", { class: "axis-dot", r: 2.6 }),
  );
}

/** Where the rays and the wedge stand, as blade angles; null where there is no target. */
export function bounds(section) {
  const { target, from_deg: from, sign } = section ?? {};
  if (!target) return null;
  const base = from ?? 0;
  const way = sign ?? 1;
  if (target.kind === "at most") {
    // Without a commanded direction the ceiling holds on both sides.
    const rays = (sign ? [way] : [1, -1]).map((side) => ({ at: base + side * target.value_deg, way: side }));
    const ends = [base, ...rays.map((ray) => ray.at)];
    return { rays, low: Math.min(...ends), high: Math.max(...ends), ceiling: true };
  }
  const mid = base + way * target.value_deg;
  return { rays: [{ at: mid, way }], low: mid - target.tolerance_deg, high: mid + target.tolerance_deg, ceiling: false };
}

function wanted(target) {
  if (!target) return "no target";
  // As it is written, not as it is kept: 12 and not 12.000000000000002.
  const said = (degrees) => Number(degrees.toFixed(2));
  return target.kind === "at most" ? `at most ${said(target.value_deg)} degrees` : `target ${said(target.value_deg)} plus or minus ${said(target.tolerance_deg)} degrees`;
}

export class Section {
  constructor() {
    this.node = svg("svg", { role: "img", "aria-label": "Section of the blade" });
    $("section-drawing").append(this.node);
    this.key = "";
    this.bounds = null;
    this.glide = new Glide((now) => this.pose(now.angle));
  }

  /** Draws what stands still: scale, datum line, target. */
  draw(sheet) {
    const section = sheet.section ?? { rotor: "main", said: "" };
    const key = JSON.stringify([section, sheet.setup?.rotation]);
    if (key === this.key) return;
    this.key = key;
    const tail = section.rotor === "tail";
    this.bounds = bounds(section);
    const reach = Math.max(Math.abs(this.bounds?.low ?? 0), Math.abs(this.bounds?.high ?? 0));
    const wide = tail || reach > 17;
    // A tail blade's leading edge lies where the sense of rotation has a main blade's.
    const edge = section.leading_edge ?? (sheet.setup?.rotation === "clockwise" ? "left" : "right");
    this.dir = edge === "right" ? 1 : -1;
    this.frame(wide);
    this.stand(section, tail, wide);
    set(this.node, { "aria-label": `Section of the blade about its feathering axis; ${wanted(section.target)}` });
    write($("section-title"), `${tail ? "Tail blade" : "Blade"} angle, ${section.said}`);
    this.pose(this.glide.now.angle ?? null);
  }

  /** The main blade has a fixed frame; a tail blade, with its wide travel, one that shows the side it moves to. */
  frame(wide) {
    if (!wide) {
      Object.assign(this, { low: -17, high: 17, radius: 462, chord: 632, pivot: [446, LOW / 2], height: LOW });
      return;
    }
    this.height = TALL;
    this.low = Math.max(-80, Math.min(-14, (this.bounds?.low ?? -30) - 6));
    this.high = Math.min(80, Math.max(14, (this.bounds?.high ?? 30) + 6));
    const rise = (degrees) => Math.sin((degrees * Math.PI) / 180);
    this.radius = Math.min(470, (TALL - 40) / (rise(this.high) - rise(this.low)));
    this.chord = this.radius * 1.3;
    this.pivot = [Math.max(this.chord * 0.68 + 20, 500 - this.radius * 0.25), 20 + this.radius * rise(this.high)];
  }

  stand(section, tail, wide) {
    const [px, py] = this.pivot;
    const r = this.radius;
    set(this.node, { viewBox: `0 0 ${W} ${this.height}` });
    const { low, high, rays, ceiling } = this.bounds ?? {};
    const parts = [svg("path", { class: "datum", d: `M${-px + 14} 0H${r + 10}` }), this.scale(wide)];
    if (this.bounds) {
      const wedge = ceiling ? null : `M0 0L${at(polar(r, low))}${arc(r, low, high).replace("M", "L")}Z`;
      if (wedge) parts.push(svg("path", { class: "wedge", d: wedge }));
      for (const ray of rays) {
        parts.push(svg("path", { class: "ray", d: `M${at(polar(this.chord * 0.36, ray.at))}L${at(polar(r + 4, ray.at))}` }));
        if (ceiling) parts.push(ground(r, ray.at, ray.way));
      }
    }
    if (section.from_deg !== null && section.from_deg !== undefined) parts.push(neutral(r, section.from_deg));
    this.blade = svg("g", {}, bladeShape(this.chord, tail), svg("path", { class: "pointer", d: `M${this.chord * 0.325} 0H${r - 3}` }));
    parts.push(this.blade);
    const turned = svg("g", { transform: `translate(${this.dir > 0 ? px : W - px} ${py}) scale(${this.dir} 1)` }, ...parts);
    this.node.replaceChildren(
      turned,
      ...this.labels(wide),
      svg("text", { class: "datum-word", x: this.dir > 0 ? 16 : W - 16, y: py + ((this.bounds?.rays[0].at ?? 0) >= 0 ? 44 : -26), "text-anchor": this.dir > 0 ? "start" : "end" }, "datum"),
    );
    this.detail = this.bounds ? this.drawDetail() : null;
  }

  scale(wide) {
    const r = this.radius;
    const step = wide ? 5 : 1;
    let d = arc(r, this.low, this.high);
    for (let a = Math.ceil(this.low / step) * step; a <= this.high; a += step) {
      const long = a % (wide ? 15 : 5) === 0;
      d += `M${at(polar(r, a))}L${at(polar(r + (long ? 20 : 10), a))}`;
    }
    return svg("path", { class: "scale", d });
  }

  labels(wide) {
    const [px, py] = this.pivot;
    const out = [];
    const step = wide ? 15 : 5;
    for (let a = Math.ceil(this.low / step) * step; a <= this.high; a += step) {
      const [x, y] = polar(this.radius + 32, a);
      out.push(svg("text", {
        class: "scale-word", x: (this.dir > 0 ? px : W - px) + this.dir * x, y: py + y + 7,
        "text-anchor": this.dir > 0 ? "start" : "end",
      }, a === 0 ? "0" : (a > 0 ? "+" : "−") + Math.abs(a)));
    }
    return out;
  }

  /** The last degree at ten times the scale. */
  drawDetail() {
    const { r } = DETAIL;
    const cx = this.dir > 0 ? r + 16 : W - r - 16;
    const up = this.bounds.rays[0].at >= 0;
    const cy = up ? r + 8 : this.height - r - 8;
    const id = "detail-edge";
    const clipPath = svg("clipPath", { id }, svg("circle", { r }));
    const ticks = svg("path", { class: "scale" });
    const wedge = svg("path", { class: "wedge" });
    const line = svg("path", { class: "ray" });
    const pointer = svg("path", { class: "pointer" });
    const inner = svg("g", { "clip-path": `url(#${id})` }, wedge, ticks, line, pointer);
    const node = svg("g", { class: "detail-view", transform: `translate(${cx} ${cy})` },
      svg("circle", { class: "lens", r }), inner, svg("circle", { class: "lens-edge", r }),
      svg("text", { class: "scale-word", x: this.dir * (r + 12), y: up ? -r + 20 : r - 8, "text-anchor": this.dir > 0 ? "start" : "end" }, "10 : 1"));
    this.node.append(clipPath, node);
    return { node, ticks, wedge, line, pointer };
  }

  show(live) {
    this.glide.toward({ angle: live?.angle_deg ?? null });
  }

  pose(angle) {
    if (!this.blade) return;
    const lost = angle === null || angle === undefined;
    const shown = lost ? 0 : Math.max(-89, Math.min(89, angle));
    set(this.blade, { transform: `rotate(${-shown})`, class: lost ? "tilting lost" : "tilting" });
    if (this.detail) this.magnify(shown, lost);
  }

  magnify(angle, lost) {
    const { low, high, rays, ceiling } = this.bounds;
    const { node, ticks, wedge, line, pointer } = this.detail;
    const { at: ray, way } = rays.reduce((a, b) => (Math.abs(b.at - angle) < Math.abs(a.at - angle) ? b : a));
    const near = !lost && Math.abs(angle - ray) < 2.2;
    set(node, { "data-near": near ? "yes" : "no" });
    if (!near) return;
    // Ten times the arc's own scale: one degree of the arc is radius·π/180 long there.
    const step = ((this.radius * Math.PI) / 180) * DETAIL.scale;
    const y = (a) => (-(a - ray) * step).toFixed(1);
    const { r } = DETAIL;
    let d = "";
    const from = Math.floor(ray * 10) / 10 - 1.5;
    for (let i = 0; i <= 30; i += 1) d += `M${this.dir * r} ${y(from + i / 10)}h${-this.dir * (Math.round((from + i / 10) * 10) % 5 === 0 ? 26 : 13)}`;
    set(ticks, { d });
    const bottom = ceiling ? ray - way * 3 : low;
    const top = ceiling ? ray : high;
    set(wedge, { d: `M${-r} ${y(bottom)}H${r}V${y(top)}H${-r}Z` });
    set(line, { d: `M${-r} ${y(ray)}H${r}` });
    set(pointer, { d: `M${-r} ${y(angle)}H${r}` });
  }
}

/** A ceiling is drawn as ground is: a line with short strokes on the side where nothing may go. */
function ground(r, ray, way) {
  let d = "";
  for (let s = 0.5; s <= 1; s += 0.045) {
    const [x, y] = polar(r * s, ray);
    const [dx, dy] = polar(16, ray + way * 135);
    d += `M${at([x, y])}l${dx.toFixed(1)} ${dy.toFixed(1)}`;
  }
  return svg("path", { class: "ground", d });
}

function neutral(r, angle) {
  const [a, b, c] = [polar(r - 2, angle), polar(r - 20, angle + (430 / r)), polar(r - 20, angle - 430 / r)];
  return svg("path", { class: "neutral", d: `M${at(a)}L${at(b)}L${at(c)}Z` });
}
