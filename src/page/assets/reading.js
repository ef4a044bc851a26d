// The live reading: the large figure, what stands beside it, and how still the blade is. The figure changes at most
// twelve times a second, as fast as it can be read; where the reading stops, dashes take its place.
import { $, plain, set, signed, svg, write } from "./draw.js";
import { Figures } from "./figures.js";

const EVERY_MS = 80;
const LOST_MS = 1200;

export class Reading {
  constructor() {
    this.figures = new Figures($("figure"));
    this.live = null;
    this.due = 0;
    this.line = svg("path", { class: "filled" });
    this.ticks = svg("path", { class: "ticks" });
    $("hold").append(svg("svg", { viewBox: "0 0 200 20", preserveAspectRatio: "none", "aria-hidden": "true" },
      svg("path", { class: "empty", d: "M1 12H199" }), this.line, this.ticks));
    this.lost = 0;
    this.draw();
  }

  show(live) {
    this.live = live;
    clearTimeout(this.lost);
    this.lost = setTimeout(() => { this.live = null; this.draw(); this.gone?.(); }, LOST_MS);
    if (this.due) return;
    const wait = Math.max(0, EVERY_MS - (performance.now() - (this.drawn ?? 0)));
    this.due = setTimeout(() => { this.due = 0; this.draw(); }, wait);
  }

  step(step) {
    this.needed = step.hold_s || 1.5;
    this.state = step.state;
    let d = "M1 6V18M199 6V18";
    for (let s = 0.5; s < this.needed; s += 0.5) d += `M${((200 * s) / this.needed).toFixed(1)} 9V15`;
    set(this.ticks, { d });
    this.draw();
  }

  draw() {
    this.drawn = performance.now();
    const live = this.live;
    const moving = live?.moving ?? false;
    this.figures.show(live?.angle_deg ?? null, moving);
    const known = live && live.angle_deg !== null && live.scatter_deg !== null && live.scatter_deg !== undefined;
    write($("scatter"), known ? `scatter ${plain(live.scatter_deg, 3)}°` : "scatter –");
    write($("travel"), live?.travel_deg === null || live?.travel_deg === undefined ? "" : `travel ${signed(live.travel_deg)}°`);
    const hold = Math.max(0, Math.min(1, live?.hold ?? 0));
    set(this.line, { d: hold > 0 ? `M1 12H${(1 + 198 * hold).toFixed(1)}` : "M0 0" });
    set($("hold"), { "data-moving": moving ? "yes" : "no", "data-full": hold >= 1 ? "yes" : null });
    write($("rest"), this.words(live, moving));
  }

  words(live, moving) {
    if (!live) return "no reading";
    if (this.state === "captured") return "✓ captured";
    if (live.said) return live.said;
    if (live.angle_deg === null || live.angle_deg === undefined) return "no blade angle yet";
    if (live.buzz) return "buzzing: back off";
    if (moving) return "moving";
    const still = live.still_s ?? 0;
    return still < 60 ? `still for ${still.toFixed(1)} s` : `still for ${Math.floor(still / 60)} min ${Math.floor(still % 60)} s`;
  }
}
