// Damped motion: what is drawn follows what is measured no faster than the eye can. Only drawings glide; the figures
// and the record never do.
import { still } from "./draw.js";

const SETTLE_S = 0.09;

export class Glide {
  constructor(draw) {
    this.draw = draw;
    this.to = {};
    this.now = {};
    this.last = null;
    this.frame = (time) => this.step(time);
    this.running = false;
  }

  /** Goes toward these numbers; null jumps. */
  toward(values) {
    Object.assign(this.to, values);
    if (this.running) return;
    this.running = true;
    this.last = null;
    requestAnimationFrame(this.frame);
  }

  step(time) {
    const past = this.last === null ? 0.016 : Math.min(0.1, (time - this.last) / 1000);
    this.last = time;
    const share = still() ? 1 : 1 - Math.exp(-past / SETTLE_S);
    let far = false;
    for (const [name, to] of Object.entries(this.to)) {
      const now = this.now[name];
      if (to === null || now === null || now === undefined || Math.abs(to - now) < 0.002) this.now[name] = to;
      else {
        this.now[name] = now + (to - now) * share;
        far = true;
      }
    }
    this.draw(this.now);
    this.running = far;
    if (far) requestAnimationFrame(this.frame);
  }
}
