// The large figures, drawn as a draughtsman letters a sheet: one stroke, upright, every figure in a box of the same
// width. Drawn by us, so they are the same on every machine, can be narrow enough to stand high on a phone, and can
// never jump in width. The stroke is thin while the blade moves and heavy when it rests: shape says it before words.
import { svg, set } from "./draw.js";

const HEIGHT = 14;
const GLYPHS = {
  0: "M4 0C6.8 0 8 3 8 7S6.8 14 4 14 0 11 0 7 1.2 0 4 0Z",
  1: "M1.6 3L5 0V14",
  2: "M.2 3.9C.4 1.4 1.9 0 4 0 6.2 0 7.7 1.5 7.7 3.7 7.7 5.7 6.4 7.2 4.6 9L.1 14H8",
  3: "M.6 0H7.5L3.7 5.3C6.4 5.3 8 7.1 8 9.6 8 12.3 6.3 14 3.8 14 1.7 14 .4 12.9 0 11",
  4: "M5.7 14V0L0 10H8",
  5: "M7.3 0H1.3L.7 6.3C1.5 5.4 2.6 5 3.9 5 6.4 5 8 6.9 8 9.4 8 12.2 6.3 14 3.8 14 1.8 14 .5 13 0 11.2",
  6: "M6.6 0C2.8 2.4 0 5.8 0 9.6 0 12.3 1.6 14 4 14S8 12.2 8 9.6 6.4 5.3 4 5.3C2.1 5.3.7 6.5.2 8.2",
  7: "M0 0H8L3 14",
  8: "M4 6.4C2 6.4.8 5.1.8 3.2.8 1.2 2.1 0 4 0S7.2 1.2 7.2 3.2C7.2 5.1 6 6.4 4 6.4 1.6 6.4 0 7.9 0 10.2 0 12.5 1.6 14 4 14S8 12.5 8 10.2C8 7.9 6.4 6.4 4 6.4Z",
  9: "M1.4 14C5.2 11.6 8 8.2 8 4.4 8 1.7 6.4 0 4 0S0 1.8 0 4.4 1.6 8.7 4 8.7C5.9 8.7 7.3 7.5 7.8 5.8",
  "+": "M0 8H7M3.5 4.5V11.5",
  "−": "M0 8H7",
  ".": "M0 13.9V14",
  "–": "M1.5 8H6.5",
};
const WIDTH = { "+": 7, "−": 7, " ": 8, ".": 0 };
const GAP = 2.7;
const SLOTS = 6; // sign, two before the point, the point, two after it

/** Six signs of fixed places: "+12.34", and below ten the sign moves up to the figure: " +2.34". */
function letters(value) {
  if (value === null) return "  –.––".split("");
  const size = Math.abs(value);
  const sign = value < 0 && Number(size.toFixed(2)) !== 0 ? "−" : "+";
  if (size >= 99.95) return [sign, ...size.toFixed(1)];
  return [...(sign + size.toFixed(2)).padStart(SLOTS, " ")];
}

export class Figures {
  constructor(into) {
    this.strokes = Array.from({ length: SLOTS }, () => svg("path"));
    const degree = svg("circle", { class: "degree", r: 1.7 });
    const total = 7 + GAP + 4 * (8 + GAP) + GAP + 4.4;
    this.node = svg(
      "svg",
      { class: "figures", viewBox: `-1.3 -1.3 ${total + 2.6} ${HEIGHT + 2.6}`, preserveAspectRatio: "none", "aria-hidden": "true" },
      ...this.strokes,
      degree,
    );
    set(degree, { cx: total - 2.2, cy: 1.6 });
    into.append(this.node);
    this.shown = "";
  }

  /** Shows an angle in degrees, or dashes where there is none. */
  show(value, moving) {
    set(this.node, { "data-moving": moving ? "yes" : "no" });
    const row = letters(value);
    if (row.join("") === this.shown) return;
    this.shown = row.join("");
    let x = 0;
    row.forEach((letter, slot) => {
      set(this.strokes[slot], { d: GLYPHS[letter] ?? "M0 0", transform: `translate(${x.toFixed(2)} 0)` });
      this.strokes[slot].setAttribute("visibility", letter === " " ? "hidden" : "visible");
      x += (WIDTH[letter] ?? 8) + GAP;
    });
  }
}
