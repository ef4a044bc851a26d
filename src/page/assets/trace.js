// The last twenty seconds of the blade angle, drawn as a pen recorder would: target band behind, a bracket over each
// stretch that was captured. Never more than twenty seconds are kept, however long the page lies open.
import { $, svg, set } from "./draw.js";
import { bounds } from "./section.js";

const SPAN_S = 20;
const H = 210;
const BOX = { left: 66, right: 988, top: 30, bottom: 196 };
const narrow = window.matchMedia("(max-width: 719px)");
const GAP_S = 0.6; // a longer silence breaks the line: nothing was measured there

export class Trace {
  constructor() {
    this.points = [];
    this.stretches = [];
    this.scale = null;
    this.layers = {
      band: svg("rect", { class: "band", x: BOX.left }),
      edge: svg("path", { class: "band-edge" }),
      grid: svg("path", { class: "grid" }),
      words: svg("g", {}),
      line: svg("path", { class: "line" }),
      marks: svg("g", {}),
      now: svg("circle", { class: "now", r: 5 }),
    };
    this.node = svg("svg", { role: "img", "aria-label": "Blade angle over the last twenty seconds" },
      ...Object.values(this.layers));
    $("trace-drawing").append(this.node);
    this.due = false;
    narrow.addEventListener("change", () => this.frame());
    this.frame();
  }

  /** A phone shows the same seconds on a shorter strip, so that the words on it stay large enough. */
  frame() {
    const width = narrow.matches ? 560 : 1000;
    BOX.right = width - 12;
    set(this.node, { viewBox: `0 0 ${width} ${H}` });
    set(this.layers.band, { width: BOX.right - BOX.left });
    set(this.layers.now, { cx: BOX.right });
    this.scale = null;
    this.redraw();
  }

  target(section) {
    this.band = bounds(section);
    this.redraw();
  }

  /** What was measured before this page was opened. */
  begin(points) {
    this.points = [];
    points.forEach(([clock, angle]) => this.add(clock, angle));
    this.redraw();
  }

  push(live) {
    this.add(live.clock_s, live.angle_deg);
    this.redraw();
  }

  add(clock, angle) {
    if (angle === null || angle === undefined || !Number.isFinite(clock)) return;
    const last = this.points.at(-1);
    if (last && clock < last[0] - 0.001) {
      // The sensor started anew, and its clock with it.
      this.points = [];
      this.stretches = [];
    }
    this.points.push([clock, angle]);
    while (this.points[0][0] < clock - SPAN_S) this.points.shift();
    this.stretches = this.stretches.filter(([, to]) => to > clock - SPAN_S);
  }

  /** Marks the stretch that a capture was averaged over. */
  captured(from, to) {
    this.stretches.push([from, to]);
    this.redraw();
  }

  redraw() {
    if (this.due) return;
    this.due = true;
    requestAnimationFrame(() => {
      this.due = false;
      this.draw();
    });
  }

  draw() {
    const end = this.points.at(-1)?.[0] ?? 0;
    const x = (t) => BOX.right - ((end - t) / SPAN_S) * (BOX.right - BOX.left);
    const [low, high, step] = this.reach();
    const y = (a) => BOX.bottom - ((a - low) / (high - low)) * (BOX.bottom - BOX.top);
    this.graduate(low, high, step, y);
    this.drawBand(y);
    let d = "";
    let before = null;
    for (const [t, a] of this.points) {
      d += `${before === null || t - before > GAP_S ? "M" : "L"}${x(t).toFixed(1)} ${y(a).toFixed(1)}`;
      before = t;
    }
    set(this.layers.line, { d: d || "M0 0" });
    const last = this.points.at(-1);
    set(this.layers.now, { cy: last ? y(last[1]).toFixed(1) : 0, visibility: last ? "visible" : "hidden" });
    // Words stand to the left of a bracket's end, where nothing else was captured just before.
    const room = narrow.matches ? 340 : 160;
    const free = (i) => Math.max(BOX.left - 60, i > 0 ? x(this.stretches[i - 1][1]) : 0);
    this.layers.marks.replaceChildren(...this.stretches.map(([from, to], i) =>
      bracket(Math.max(BOX.left, x(from)), x(to), to - from, x(to) - room > free(i))));
  }

  /** The range shown: everything measured, the target and the neutral; it grows at once and shrinks with the data. */
  reach() {
    const angles = this.points.map(([, a]) => a);
    if (this.band) angles.push(this.band.low, this.band.high);
    angles.push(0);
    const low = Math.min(...angles);
    const high = Math.max(...angles);
    const room = Math.max(1, (high - low) * 0.08);
    const step = [0.5, 1, 2, 5, 10, 20, 45, 90].find((s) => (high - low + 2 * room) / s <= 4.2) ?? 90;
    return [low - room, high + room, step];
  }

  graduate(low, high, step, y) {
    const key = `${low.toFixed(2)} ${high.toFixed(2)} ${step}`;
    if (key === this.scale) return;
    this.scale = key;
    let d = "";
    const words = [];
    for (let a = Math.ceil(low / step) * step; a <= high; a += step) {
      d += `M${BOX.left} ${y(a).toFixed(1)}H${BOX.right}`;
      const text = Math.abs(a) < 1e-9 ? "0°" : `${a > 0 ? "+" : "−"}${Number(Math.abs(a).toFixed(1))}°`;
      words.push(svg("text", { class: "scale-word", x: BOX.left - 10, y: (y(a) + 6).toFixed(1), "text-anchor": "end" }, text));
    }
    for (let s = 0; s <= SPAN_S; s += 5) {
      const x = BOX.right - (s / SPAN_S) * (BOX.right - BOX.left);
      d += `M${x} ${BOX.bottom}v8`;
    }
    set(this.layers.grid, { d });
    this.layers.words.replaceChildren(...words);
  }

  drawBand(y) {
    const { band, edge } = this.layers;
    if (!this.band) {
      set(band, { height: 0 });
      set(edge, { d: "M0 0" });
      return;
    }
    const { low, high, ceiling, rays: edges } = this.band;
    set(band, { y: y(high).toFixed(1), height: Math.max(0, y(low) - y(high)).toFixed(1), class: ceiling ? "band open" : "band" });
    const rules = ceiling ? edges.map((ray) => ray.at) : [low, high];
    set(edge, { d: rules.map((a) => `M${BOX.left} ${y(a).toFixed(1)}H${BOX.right}`).join("") });
  }
}

/** `worded` where there is room for words: a bracket alone says the same. */
function bracket(from, to, seconds, worded) {
  const y = 20;
  const line = svg("path", { d: `M${from.toFixed(1)} ${y + 9}V${y}H${to.toFixed(1)}V${y + 9}` });
  if (!worded) return svg("g", { class: "stretch" }, line);
  const words = { x: Math.min(to, BOX.right).toFixed(1), y: y - 6, "text-anchor": "end" };
  return svg("g", { class: "stretch" }, line, svg("text", words, `captured, ${seconds.toFixed(1)} s`));
}
