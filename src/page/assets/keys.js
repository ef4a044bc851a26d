// Keys: everything can be done without a pointer, and any key of a foot switch or clicker can be given any deed.
// A clicker mostly sends Page Down and Page Up, a foot switch often the space bar: those do what a page does until they are
// given a deed in the list of keys.
// "Capture now" held three seconds means "bound".
import { $, html, redraw } from "./draw.js";

export const DEEDS = [
  { name: "capture", says: "capture now, or: what was asked is done", keys: ["c"] },
  { name: "bound", says: "bound: it will go no further", keys: ["b"] },
  { name: "undo", says: "the last one was wrong", keys: ["u"] },
  { name: "skip", says: "skip this step", keys: ["s"] },
  { name: "yes", says: "yes: the first answer", keys: ["y"] },
  { name: "no", says: "no: the second answer", keys: ["n"] },
  { name: "arm", says: "hands-free on or off", keys: ["a"] },
  { name: "voice", says: "voice on or off", keys: ["v"] },
  { name: "tones", says: "tones on or off", keys: ["t"] },
  { name: "turned", says: "I turned something", keys: ["r"] },
  { name: "room", says: "across the room, and back", keys: ["f"] },
  { name: "keys", says: "this list", keys: ["?"] },
];
const HOLD_MS = 3000;
const NAMES = { " ": "Space", PageDown: "Page ↓", PageUp: "Page ↑", ArrowLeft: "←", ArrowRight: "→", ArrowUp: "↑", ArrowDown: "↓" };
export const keyName = (key) => NAMES[key] ?? (key.length === 1 ? key.toUpperCase() : key);

const kept = () => {
  try {
    return JSON.parse(localStorage.getItem("clinoblade.keys") ?? "{}");
  } catch {
    return {};
  }
};

export class Keys {
  /** `run(name)` does a deed; `choice(key)` takes an answer that carries this key itself, and says whether it did. */
  constructor(run, choice) {
    this.run = run;
    this.choice = choice;
    this.own = kept();
    this.learning = null;
    this.held = null;
    document.addEventListener("keydown", (event) => this.down(event));
    document.addEventListener("keyup", (event) => this.up(event));
    window.addEventListener("blur", () => this.release());
    this.dialog = $("keys");
    // What is learned is learned in the dialog: closing it ends that.
    this.dialog.addEventListener("close", () => { this.learning = null; });
  }

  keysOf(name) {
    return this.own[name] ?? DEEDS.find((deed) => deed.name === name)?.keys ?? [];
  }

  /** The key to print beside a deed. */
  label(name) {
    const [first] = this.keysOf(name);
    return first ? keyName(first) : "";
  }

  down(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (this.learning) return this.learn(event);
    if (event.target.matches("select, textarea, input:not([type=range], [type=checkbox])")) return;
    // A slider keeps the keys that move it.
    if (event.target.matches("input") && !/^[a-z0-9?]$/i.test(event.key)) return;
    // A focused button keeps Enter and Space to itself.
    if (event.target.matches("button, summary, a") && (event.key === "Enter" || event.key === " ")) return;
    if (document.querySelector("dialog[open]")) return;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    // A deed's key does the deed, also where an answer carries the same letter: only so "capture now" can be held.
    const deed = DEEDS.find(({ name }) => this.keysOf(name).includes(key));
    if (!deed) {
      if (!event.repeat && this.choice(key)) event.preventDefault();
      return;
    }
    event.preventDefault();
    if (event.repeat) return;
    if (deed.name === "capture") this.hold(key);
    else this.run(deed.name);
  }

  /** Short is "capture now", three seconds is "bound": told apart when the key comes up, or when the time is over. */
  hold(key) {
    if (this.held) return;
    document.body.dataset.holding = "yes";
    this.held = { key, timer: setTimeout(() => { this.release(); this.run("bound"); }, HOLD_MS) };
  }

  release() {
    clearTimeout(this.held?.timer);
    this.held = null;
    delete document.body.dataset.holding;
  }

  up(event) {
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if (this.held?.key !== key) return;
    this.release();
    this.run("capture");
  }

  learn(event) {
    event.preventDefault();
    event.stopPropagation();
    if (["Shift", "Control", "Alt", "Meta", "Tab"].includes(event.key)) return;
    const name = this.learning;
    this.learning = null;
    if (event.key !== "Escape") {
      const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
      // One key, one deed: it is taken from whatever had it.
      for (const deed of DEEDS)
        if (this.keysOf(deed.name).includes(key)) this.own[deed.name] = this.keysOf(deed.name).filter((k) => k !== key);
      this.own[name] = [key, ...this.keysOf(name)].slice(0, 2);
      this.save();
    }
    this.draw(name);
    this.changed?.();
  }

  save() {
    try {
      localStorage.setItem("clinoblade.keys", JSON.stringify(this.own));
    } catch { /* kept for this page only */ }
  }

  show() {
    if (this.dialog.open) return this.dialog.close();
    this.draw();
    this.dialog.showModal();
  }

  draw(focus) {
    const line = (deed) => {
      const button = html("button", {
        type: "button", class: "bind", "data-deed": deed.name, "aria-label": `${this.keysOf(deed.name).map(keyName).join(" ") || "no key"}: give another key to ${deed.says}`,
        onclick: () => { this.learning = deed.name; button.replaceChildren("press the key …"); },
      }, ...(this.keysOf(deed.name).length ? this.keysOf(deed.name).flatMap((key) => [html("kbd", {}, keyName(key)), " "]) : ["no key"]));
      return html("tr", {}, html("th", { scope: "row" }, deed.says), html("td", {}, button));
    };
    redraw(this.dialog,
      html("h2", { id: "keys-title" }, "Keys, foot switch, clicker"),
      html("p", {}, "Choose a line, then press the key or the switch that is to do it. “Capture now” held three seconds means bound."),
      html("table", {}, html("tbody", {}, ...DEEDS.map(line))),
      html("p", { class: "deeds" },
        html("button", { type: "button", class: "deed", onclick: () => { this.own = {}; this.save(); this.draw(); this.changed?.(); } }, "as it was"),
        html("button", { type: "button", class: "deed", onclick: () => this.dialog.close() }, "close")));
    if (focus) this.dialog.querySelector(`[data-deed="${focus}"]`)?.focus();
  }
}
