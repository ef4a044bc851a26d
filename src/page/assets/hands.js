// The demo's drawer: simulated hands on the sticks, the head and the clip. It speaks the rig's own words and is there
// only when the helicopter is a simulated one.
import { $, bladeLetter, html } from "./draw.js";
import { rig } from "./feed.js";

const STICKS = [
  { name: "collective", low: 0, high: 100, centre: 50, words: ["low", "high"], springs: false },
  { name: "elevator", low: -100, high: 100, centre: 0, words: ["down", "up"], springs: true },
  { name: "aileron", low: -100, high: 100, centre: 0, words: ["left", "right"], springs: true },
  { name: "rudder", low: -100, high: 100, centre: 0, words: ["left", "right"], springs: true },
];
const MOVE_S = 0.12; // a slider that is dragged becomes short moves, so that the blade glides
const RETURN_S = 0.6;

export class Hands {
  constructor(refused) {
    this.refused = refused;
    this.shown = false;
  }

  async do(line) {
    const refused = await rig(line);
    if (refused) this.refused(refused);
  }

  draw(sheet) {
    if (this.shown || !sheet.demo) return;
    this.shown = true;
    $("hands").hidden = false;
    const blades = Array.from({ length: sheet.setup.main_blades ?? 2 }, (_, index) => bladeLetter(index));
    $("hands").append(html("details", {},
      html("summary", {}, "Simulated hands"),
      html("div", { class: "hands-body" },
        html("div", { class: "sticks" }, ...STICKS.map((stick) => this.stick(stick))),
        this.turning(), this.clip(blades), this.cable())));
  }

  /** A stick: follows the slider at most a few times a second, and goes back by itself when let go. */
  stick({ name, low, high, centre, words, springs }) {
    let sent = 0;
    let waiting = 0;
    const input = html("input", { type: "range", min: low, max: high, step: 1, value: centre, id: `stick-${name}` });
    const hold = html("input", { type: "checkbox", id: `hold-${name}` });
    const send = () => {
      clearTimeout(waiting);
      const due = sent + MOVE_S * 1000 - performance.now();
      if (due > 0) {
        waiting = setTimeout(send, due);
        return;
      }
      sent = performance.now();
      this.do(`stick ${name} ${input.value} over ${MOVE_S}`);
    };
    const letGo = () => {
      if (!springs || hold.checked || Number(input.value) === centre) return;
      clearTimeout(waiting);
      input.value = centre;
      this.do(`stick ${name} ${centre} over ${RETURN_S}`);
    };
    input.addEventListener("input", send);
    input.addEventListener("pointerup", letGo);
    input.addEventListener("blur", letGo);
    hold.addEventListener("change", letGo);
    return html("div", { class: "stick" },
      html("label", { for: `stick-${name}` }, name),
      html("span", { class: "stick-end" }, words[0]), input, html("span", { class: "stick-end" }, words[1]),
      springs
        ? html("label", { class: "holding" }, hold, "hold")
        : html("button", { type: "button", class: "deed", onclick: () => { input.value = centre; this.do(`stick ${name} ${centre} over ${RETURN_S}`); } }, "mid"));
  }

  turning() {
    const group = html("div", { class: "hand-line", role: "group", "aria-label": "Turn the head" }, html("span", {}, "blade A to station"));
    for (const station of [0, 90, 180, 270]) group.append(this.deed(`${station}°`, `head ${station} over 1.5`));
    group.append(html("span", {}, "tail: edge"), this.deed("up", "tail up over 1.5"), this.deed("down", "tail down over 1.5"));
    return group;
  }

  clip(blades) {
    const seats = [...blades, "tail A", "tail B", "table"];
    const seat = html("select", { "aria-label": "Clip on" }, ...seats.map((s) => html("option", { value: s }, s.length === 1 ? `blade ${s}` : s)));
    const way = html("select", { "aria-label": "Which way it sits" }, html("option", {}, "forward"), html("option", {}, "reversed"));
    const put = html("button", { type: "button", class: "deed", onclick: () => this.do(`clip ${seat.value} ${way.value} over 1.5`) }, "put it on");
    return html("div", { class: "hand-line", role: "group", "aria-label": "Move the clip" }, html("span", {}, "clip on"), seat, way, put);
  }

  cable() {
    return html("div", { class: "hand-line", role: "group", "aria-label": "Cable" }, html("span", {}, "cable"), this.deed("unplug", "unplug"), this.deed("replug", "replug"));
  }

  deed(label, line) {
    return html("button", { type: "button", class: "deed", onclick: () => this.do(line) }, label);
  }
}
