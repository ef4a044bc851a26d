// "I turned something": the few things that make sense for a cell, what each makes out of date, and by how much it was.
import { $, html, redraw, write } from "./draw.js";
import { button, deed, get } from "./place.js";

export class Turned {
  constructor() {
    this.dialog = $("turned");
  }

  /** What was advised is recorded as it was advised. */
  async advised(setup, what) {
    return (await deed({ do: "turned", setup, what })).refused;
  }

  async ask(setup, cell) {
    const heading = html("h2", { id: "turned-title" }, cell ? `What did you turn for ${cell}?` : "What did you turn?");
    redraw(this.dialog, heading, html("p", { class: "lead" }, "One moment …"));
    if (!this.dialog.open) this.dialog.showModal();
    const { answer, refused } = await get(`/api/turnables?setup=${setup}${cell ? `&cell=${encodeURIComponent(cell)}` : ""}`);
    if (refused) {
      this.dialog.close();
      return refused;
    }
    this.chosen = null;
    this.options = answer;
    this.setup = setup;
    const choices = answer.map((one, i) => {
      const radio = html("input", { type: "radio", name: "turnable", value: i, id: `turn-${i}`, onchange: () => this.amount(one) });
      return html("label", { class: "turn-choice", for: `turn-${i}` }, radio, html("span", {}, one.label, html("small", {}, one.said)));
    });
    this.box = html("div", { class: "amount" });
    this.why = html("p", { class: "refusal", role: "alert", hidden: true });
    this.note = html("input", { type: "text", id: "turn-note", maxlength: 200, autocomplete: "off" });
    redraw(this.dialog,
      heading,
      html("div", { role: "radiogroup", "aria-labelledby": "turned-title" }, ...choices),
      this.box,
      html("p", { class: "field" }, html("label", { for: "turn-note" }, "Note"), this.note, html("span", { class: "usual" }, "May stay blank.")),
      this.why,
      html("p", { class: "row" }, button("I turned it", () => this.keep(), { class: "first", id: "turned-now" }), button("Nothing", () => this.dialog.close())));
    return null;
  }

  amount(one) {
    this.chosen = one;
    const number = (label, unit, value) => [html("label", {}, label, this.size = html("input", { type: "text", inputmode: "decimal", id: "turn-size", autocomplete: "off", value }), unit)];
    const way = (a, b) => [a, b].map((text, i) => html("label", {}, html("input", { type: "radio", name: "way", value: i ? "-" : "+", id: `way-${i}` }), text));
    const parts = {
      half_turns: () => [...number("by", "half-turns", "1"), ...way("longer", "shorter")],
      teeth: () => [...number("by", "teeth", "1"), ...way("up", "down")],
      percent: () => number("now at", "%", ""),
      done: () => [],
    }[one.amount]();
    redraw(this.box, ...parts);
  }

  /** As it is recorded; null where something is still to be said. */
  said() {
    const { chosen } = this;
    if (!chosen) return null;
    if (chosen.amount === "done") return chosen.what;
    const size = this.size.value.trim().replace(",", ".").replace("−", "-");
    if (!size || !Number.isFinite(Number(size))) return null;
    if (chosen.amount === "percent") return chosen.pattern.replace("{}", size);
    const sign = this.box.querySelector("input[name=way]:checked")?.value;
    return sign ? chosen.pattern.replace("{}", sign + size.replace(/^[+-]/, "")) : null;
  }

  async keep() {
    const said = this.said();
    const tell = (text) => { this.why.hidden = false; write(this.why, text); };
    if (!said) return tell(this.chosen ? "Say by how much and which way." : "Choose what you turned.");
    const { refused } = await deed({ do: "turned", setup: this.setup, what: [said], note: this.note.value || null });
    if (refused) return tell(refused.said);
    this.chosen = null;
    this.dialog.close();
    return null;
  }
}

/** A cell that is left out on purpose, with the reason that the sheet will show. */
export function leaveOut(setup, cell) {
  const dialog = $("turned");
  const because = html("input", { type: "text", id: "because", maxlength: 200, autocomplete: "off" });
  const why = html("p", { class: "refusal", role: "alert", hidden: true });
  const keep = async () => {
    const { refused } = await deed({ do: "leave_out", setup, cell, because: because.value });
    if (!refused) return dialog.close();
    why.hidden = false;
    write(why, refused.said);
    return null;
  };
  redraw(dialog,
    html("h2", { id: "turned-title" }, `Leave out ${cell}`),
    html("p", { class: "field" }, html("label", { for: "because" }, "Why"), because, html("span", { class: "usual" }, "The sheet shows it.")),
    why,
    html("p", { class: "row" }, button("Leave it out", keep, { class: "first", id: "leave-out-now" }), button("Not now", () => dialog.close())));
  if (!dialog.open) dialog.showModal();
}
