// The next step: one plain sentence, what helps with it, the ways out of it, and the arm-switch. Also the cautions,
// which stand alone on the sheet until every line has been marked.
import { $, html, redraw, set, svg, write } from "./draw.js";

/** The switch as a circuit diagram draws one: a lever between two contacts, lying closed when armed. */
function lever() {
  return svg("svg", { viewBox: "0 0 120 44", "aria-hidden": "true", class: "lever" },
    svg("path", { d: "M2 32H30M90 32H118" }),
    svg("circle", { cx: 34, cy: 32, r: 4 }), svg("circle", { cx: 86, cy: 32, r: 4 }),
    svg("path", { class: "arm-lever", d: "M34 32H90" }));
}

function tick(done) {
  return svg("svg", { viewBox: "0 0 32 32", "aria-hidden": "true", class: "box" },
    svg("path", { d: "M4 4H28V28H4Z" }), done ? svg("path", { class: "stroke", d: "M8 17L14 24L30 3" }) : null);
}

export class Step {
  constructor(doing) {
    this.doing = doing;
    this.choicesKey = "";
    const word = html("span", { id: "arm-word" });
    $("arm").append(lever(), word, html("kbd", { id: "arm-key" }));
    $("arm").addEventListener("click", () => doing.arm());
  }

  draw(sheet, keyFor) {
    const { step } = sheet;
    const cautious = sheet.cautions.some((line) => !line.acknowledged);
    set(document.body, {
      "data-screen": cautious ? "cautions" : "sheet",
      "data-state": step.state,
      "data-instruction": step.instruction.kind,
      "data-link": sheet.link.state,
    });
    write($("sentence"), step.sentence);
    write($("detail"), step.detail ?? "");
    $("why").hidden = !step.why;
    write($("why"), step.why ?? "");
    write($("progress"), step.number && step.of ? `step ${step.number} of ${step.of}` : "");
    this.choices(step.choices ?? []);
    this.arm(sheet, cautious, keyFor("arm"));
    this.cautions(sheet, cautious);
  }

  arm(sheet, cautious, key) {
    const { armed } = sheet;
    set($("arm"), { "aria-checked": armed ? "true" : "false" });
    $("arm").hidden = cautious || sheet.finished === true;
    write($("arm-word"), armed ? "Hands-free is on" : "Start hands-free");
    write($("arm-key"), key);
  }

  choices(choices) {
    const key = JSON.stringify(choices);
    if (key === this.choicesKey) return;
    this.choicesKey = key;
    redraw($("choices"), ...choices.map((choice, i) =>
      html("button", { type: "button", class: "choice", onclick: () => this.doing.act(choice.act) },
        html("span", {}, choice.label), html("kbd", {}, (choice.key ?? String(i + 1)).toUpperCase()))));
  }

  cautions(sheet, cautious) {
    $("cautions").hidden = !cautious;
    $("board").hidden = cautious;
    if (!cautious) {
      this.cautionKey = "";
      return;
    }
    const key = JSON.stringify(sheet.cautions);
    if (key === this.cautionKey) return;
    const had = document.activeElement?.closest("#caution-lines, body > a") !== null || document.activeElement === document.body;
    this.cautionKey = key;
    $("caution-lines").replaceChildren(...sheet.cautions.map((line, i) =>
      html("li", {},
        html("button", {
          type: "button", class: "caution", "aria-pressed": line.acknowledged ? "true" : "false",
          onclick: () => line.acknowledged || this.doing.act({ do: "acknowledge", line: i }),
        }, tick(line.acknowledged), html("span", {}, line.text)))));
    const next = sheet.cautions.findIndex((line) => !line.acknowledged);
    // So that one key, pressed again and again, goes down the list.
    if (had) $("caution-lines").children[next]?.firstElementChild.focus({ preventScroll: next === 0 });
  }
}
