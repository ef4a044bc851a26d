// The sheet: one row a cell. The rule under a value says the verdict before the word does: solid is inside, double
// is outside, wavy is undecided, an empty dashed box is missing. A row unfolds to what it means and what can
// be done about it.
import { $, html, plain, redraw, set, signed, write } from "./draw.js";

const VERDICTS = new Set(["inside", "outside", "undecided", "in_question", "bound", "stale", "missing"]);

const capital = (text) => text[0].toUpperCase() + text.slice(1);

export class Cells {
  constructor(doing) {
    this.doing = doing;
    this.rows = new Map();
    this.open = new Set();
    this.orderKey = "";
  }

  draw(sheet) {
    const kept = new Set();
    let group = "";
    sheet.cells.forEach((cell, i) => {
      const [axis, direction] = cell.name;
      const row = this.row(cell.cell);
      kept.add(cell.cell);
      row.update(cell, axis, direction, axis === group, sheet);
      group = axis;
      const place = $("cell-rows").children[i * 2];
      if (place !== row.line) $("cell-rows").insertBefore(row.line, place ?? null);
      if (row.line.nextSibling !== row.fold) row.line.after(row.fold);
    });
    for (const [name, row] of this.rows) {
      if (kept.has(name)) continue;
      row.line.remove();
      row.fold.remove();
      this.rows.delete(name);
    }
    this.order(sheet);
    this.standing(sheet);
  }

  row(name) {
    if (!this.rows.has(name)) this.rows.set(name, new Row(name, this.doing));
    return this.rows.get(name);
  }

  standing(sheet) {
    const count = (verdict) => sheet.cells.filter((cell) => cell.verdict === verdict).length;
    const words = [...VERDICTS].map((verdict) => [count(verdict), verdict]).filter(([n]) => n > 0).map(([n, v]) => `${n} ${v.replace("_", " ")}`);
    const start = sheet.finished ? "Finished. " : sheet.good ? "Complete, and everything inside. " : sheet.complete ? "Complete. " : "";
    write($("standing"), start + words.join(", ") + (words.length ? "." : ""));
    // Once nothing is left to do, the step itself offers it.
    const ready = sheet.complete && !sheet.finished && sheet.step.state !== "done";
    if (ready && !$("finish").firstChild)
      $("finish").append(html("button", { type: "button", class: "choice", onclick: () => this.doing.act({ do: "finish" }) }, html("span", {}, "Finish this setup")));
    if (!ready) redraw($("finish"));
  }

  order(sheet) {
    const key = JSON.stringify([sheet.order, sheet.finished]);
    if (key === this.orderKey) return;
    this.orderKey = key;
    redraw($("order-lines"), ...sheet.order.map((step, i) =>
      html("li", { class: `order-line ${step.state}` },
        html("span", { class: "order-name" }, step.label),
        html("span", { class: "order-state" }, step.state === "later" ? "" : step.state),
        html("span", { class: "order-acts" }, ...(sheet.finished ? [] : moves(sheet.order, i, this.doing))))));
  }
}

/** The ways to change the order that make sense for one step. */
function moves(order, i, doing) {
  const step = order[i];
  const acts = [];
  const say = (label, what) => acts.push(deed(label, () => doing.act(what), `${label}: ${step.label}`));
  if (step.state !== "now") say("go to", { do: "go to", id: step.id });
  if (i > 0) say("earlier", { do: "move order", id: step.id, before: order[i - 1].id });
  if (i < order.length - 1) say("later", { do: "move order", id: step.id, before: order[i + 2]?.id ?? null });
  if (step.state === "now") say("skip", { do: "skip" });
  return acts;
}

const deed = (label, run, name) => html("button", { type: "button", class: "deed", onclick: run, "aria-label": name }, label);

class Row {
  constructor(name, doing) {
    this.doing = doing;
    this.axis = html("span", { class: "axis-name" });
    this.way = html("span", { class: "way" });
    this.button = html("button", { type: "button", class: "unfold", "aria-expanded": "false", onclick: (e) => { e.stopPropagation(); this.toggle(); } }, this.axis, " ", this.way);
    this.value = html("span", { class: "value" });
    this.asked = html("td", { class: "asked" });
    this.under = html("span", { class: "asked-under", "aria-hidden": "true" }); // a phone has no column to spare
    this.mark = html("span", { class: "mark", "aria-hidden": "true" });
    this.word = html("span", {});
    this.verdict = html("td", { class: "verdict" }, this.mark, this.word);
    this.line = html("tr", { class: "cell", onclick: () => this.toggle() },
      html("th", { scope: "row" }, this.button, this.under), html("td", { class: "value-cell" }, this.value), this.asked, this.verdict);
    this.body = html("td", { colspan: 4 });
    this.fold = html("tr", { class: "fold", hidden: true }, this.body);
    this.key = "";
    this.seen = undefined;
  }

  toggle() {
    this.fold.hidden = !this.fold.hidden;
    set(this.button, { "aria-expanded": this.fold.hidden ? "false" : "true" });
    set(this.line, { "data-open": this.fold.hidden ? null : "yes" });
  }

  update(cell, axis, direction, same, sheet) {
    const key = JSON.stringify([cell, same, sheet.order, sheet.step.state, sheet.step.cell, sheet.finished]);
    if (key === this.key) return;
    this.key = key;
    const verdict = VERDICTS.has(cell.verdict) ? cell.verdict : "missing";
    const now = cell.state === "now";
    write(this.axis, axis);
    set(this.axis, { class: same ? "axis-name same" : "axis-name" });
    write(this.way, direction);
    const empty = cell.value_deg === null || cell.value_deg === undefined;
    write(this.value, empty ? "" : signed(cell.value_deg) + (cell.expanded_deg === null || cell.expanded_deg === undefined ? "" : ` ± ${plain(cell.expanded_deg)}`));
    if (empty) this.value.append(html("span", { class: "vh" }, "nothing captured"));
    set(this.value, { class: `value ${empty ? "missing" : verdict}` });
    write(this.asked, cell.target ?? "");
    write(this.under, cell.target ?? "");
    write(this.mark, cell.mark ? `${cell.mark} ` : "");
    write(this.word, now && empty ? "now" : cell.state === "skipped" && empty ? "skipped" : verdict.replace("_", " "));
    set(this.line, { class: `cell ${verdict}${now ? " now" : ""}`, "aria-current": now ? "step" : null });
    // A cell that has just been filled is inked in, once.
    if (this.seen !== undefined && this.seen !== cell.value_deg && !empty) {
      this.value.classList.add("fresh");
      this.value.addEventListener("animationend", () => this.value.classList.remove("fresh"), { once: true });
    }
    this.seen = cell.value_deg;
    this.unfold(cell, sheet);
  }

  unfold(cell, sheet) {
    const parts = [];
    const line = (kind, text) => text && parts.push(html("p", { class: kind }, text));
    line("question", cell.question);
    line("consequence", cell.consequence);
    line("advice", cell.advice);
    (cell.remarks ?? []).forEach((remark) => line("remark", remark));
    if (cell.history?.length)
      parts.push(html("p", { class: "history" }, "Read before: ", cell.history.map((h) => `${h.at} ${signed(h.angle_deg)}°${h.withdrawn ? " (taken back)" : ""}`).join(" · ")));
    const acts = [];
    if (!sheet.finished && cell.turns?.length)
      parts.push(html("p", { class: "deeds" }, html("button", { type: "button", class: "button first", onclick: () => this.doing.advised(cell), "aria-label": `I turned it: ${cell.cell}` }, "I turned it")));
    if (cell.left_out) line("remark", `Left out: ${cell.left_out}`);
    if (sheet.finished) return redraw(this.body, html("div", { class: "fold-body" }, ...(parts.length ? parts : [html("p", { class: "remark" }, `${capital(cell.cell)}: nothing to say.`)])));
    if (cell.value_deg !== null && cell.value_deg !== undefined) acts.push(deed("redo", () => this.doing.act({ do: "redo", cell: cell.cell }), `redo: ${cell.cell}`));
    const i = sheet.order.findIndex((step) => step.cell === cell.cell);
    if (i >= 0) acts.push(...moves(sheet.order, i, this.doing));
    acts.push(deed("I turned something", () => this.doing.turned(cell.cell), `I turned something: ${cell.cell}`));
    if (cell.owed) acts.push(deed("leave out", () => this.doing.leaveOut(cell.cell), `leave out: ${cell.cell}`));
    if (acts.length) parts.push(html("p", { class: "deeds" }, ...acts));
    if (!parts.length) parts.push(html("p", { class: "remark" }, `${capital(cell.cell)}: nothing to say yet.`));
    redraw(this.body, html("div", { class: "fold-body" }, ...parts));
  }
}
