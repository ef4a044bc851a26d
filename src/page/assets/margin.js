// What stands in the margin of a drawing: the title block, the pictures, what can be done by hand, and the switches
// for voice and tones.
import { $, html, set, write } from "./draw.js";

const BY_HAND = [
  ["capture", "capture now", "capture"],
  ["bound", "bound", "bound"],
  ["undo", "the last one was wrong", "undo"],
  ["skip", "skip this step", "skip"],
  ["turned", "I turned something", "turned"],
  ["room", "across the room", "room"],
];

/** One of several sensors: its port, whether it is read, and what its line has spoiled. */
function sensor(line) {
  const parts = [line.source];
  if (line.read) parts.push("read now");
  if (!line.up) parts.push("its line is broken");
  if (line.lost) parts.push(`${line.lost} lost`);
  if (line.damaged) parts.push(`${line.damaged} damaged`);
  return parts.join(", ");
}

export class Margin {
  constructor(doing, keys, voice, tone) {
    Object.assign(this, { doing, keys, voice, tone });
    this.titleKey = "";
    this.pictures = new Map();
    this.buttons();
  }

  buttons() {
    const key = (name) => html("kbd", { "data-key": name }, this.keys.label(name));
    const plain = (name, label) => html("button", { type: "button", class: "by", onclick: () => this.doing.run(name) }, html("span", {}, label), key(name));
    $("by-hand").replaceChildren(...BY_HAND.map(([name, label]) => plain(name, label)));
    $("switches").replaceChildren(
      html("button", { type: "button", class: "by", id: "switch-voice", role: "switch", onclick: () => this.doing.run("voice") }, html("span", {}), key("voice")),
      html("button", { type: "button", class: "by", id: "switch-tones", role: "switch", onclick: () => this.doing.run("tones") }, html("span", {}), key("tones")),
      plain("keys", "keys"));
    this.switches();
  }

  /** A deed was given another key: only its name changes, so that whoever stands on the button stays there. */
  labels() {
    for (const kbd of document.querySelectorAll("[data-key]")) write(kbd, this.keys.label(kbd.dataset.key));
  }

  switches() {
    for (const [id, name, on] of [["switch-voice", "voice", this.voice.on], ["switch-tones", "tones", this.tone.on]]) {
      set($(id), { "aria-checked": on ? "true" : "false", "aria-label": name });
      write($(id).firstElementChild, `${name} ${on ? "on" : "off"}`);
    }
  }

  draw(sheet, live) {
    const { setup, link } = sheet;
    write($("setup-line"), `Setup ${setup.number}, ${setup.head}`);
    const rows = [
      ["helicopter", setup.head],
      ["setup", `no. ${setup.number}`],
      ["reason", setup.reason],
      ["measured by", setup.measured_by],
      ["rotor", `${setup.main_blades} blades, ${setup.rotation} from above`],
      ...(sheet.sensors?.length
        ? sheet.sensors.map((line) => [`sensor ${line.carrier}`, sensor(line)])
        : [["sensor", link.source]]),
      ["rate", link.rate_hz ? `${Math.round(link.rate_hz)} a second` : null],
      ["lost, damaged", !sheet.sensors?.length && (link.lost || link.damaged) ? `${link.lost}, ${link.damaged}` : null],
      ["at the sensor", live?.temperature_c === null || live?.temperature_c === undefined ? null : `${live.temperature_c.toFixed(0)} °C`],
    ].filter(([, value]) => value);
    const key = JSON.stringify(rows);
    if (key === this.titleKey) return;
    this.titleKey = key;
    $("title-block").replaceChildren(...rows.map(([name, value]) => html("div", {}, html("dt", {}, name), html("dd", {}, String(value)))));
  }

  /** Pictures come as images: an SVG in an image can run no script and fetch nothing. */
  drawPictures(list) {
    $("pictures").hidden = !list?.length;
    for (const { name, title, version } of list ?? []) {
      if (!this.pictures.has(name)) {
        const image = html("img", { alt: title, loading: "lazy" });
        const figure = html("figure", {}, html("figcaption", {}, title), image);
        $("picture-row").append(figure);
        this.pictures.set(name, { figure, image });
      }
      set(this.pictures.get(name).image, { src: `/pictures/${encodeURIComponent(name)}.svg?v=${encodeURIComponent(version)}` });
    }
    for (const [name, { figure }] of this.pictures) {
      if (list?.some((picture) => picture.name === name)) continue;
      figure.remove();
      this.pictures.delete(name);
    }
  }
}
