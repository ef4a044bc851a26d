// For a screen reader: the sentence when it changes, and the angle only when it rests, at most every five seconds. A
// live region that spoke thirty times a second would drown the person who listens.
import { $, signed, write } from "./draw.js";

const EVERY_MS = 5000;

export class Aloud {
  constructor() {
    this.sentence = "";
    this.last = 0;
    this.angle = null;
  }

  step(step) {
    const ways = (step.choices ?? []).map((choice, i) => `${choice.label}: key ${choice.key ?? i + 1}.`);
    const text = [step.sentence, step.why, step.detail, ...ways].filter(Boolean).join(" ");
    if (text === this.sentence) return;
    this.sentence = text;
    this.last = performance.now();
    write($("speak-live"), text);
  }

  live(live) {
    const now = performance.now();
    if (live.moving || live.angle_deg === null || live.angle_deg === undefined || live.still_s < 1) return;
    if (now - this.last < EVERY_MS) return;
    const said = `${signed(live.angle_deg, 1).replace("−", "minus ").replace("+", "plus ")} degrees, still`;
    if (said === this.angle) return;
    this.last = now;
    this.angle = said;
    write($("speak-live"), said);
  }
}
