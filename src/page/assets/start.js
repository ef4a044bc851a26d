// The start: the sensor, the helicopters with their last setup, and what to do next.
import { $, html, redraw, svg, write } from "./draw.js";
import { button, day, deed, get, link, refuse, title } from "./place.js";

const EVERY_MS = 3000;
let shown = "";

async function show() {
  const { answer: state, refused } = await get("/api/state");
  if (refused) return refuse(refused);
  const key = JSON.stringify(state);
  if (key === shown) return;
  shown = key;
  title(state.said);
  write($("cautions"), state.cautions);
  $("simulated").hidden = !state.simulated;
  sensor(state.sensor, state.simulated);
  helicopters(state);
}

const GOOD = new Set(["reading", "found"]);

function sensor(line, simulated) {
  const mark = GOOD.has(line.kind) ? "✓ " : "✗ ";
  const level = svg("svg", { class: "blade-line", viewBox: "0 0 400 48", "aria-hidden": "true", preserveAspectRatio: "none" },
    svg("path", { class: "axis-line", d: "M0 34H400" }), svg("path", { d: "M0 36L110 33L145 16L215 13L280 15L315 34L400 33" }));
  redraw($("sensor-body"),
    ...(line.source ? [html("p", { class: "sensor-name" }, line.source)] : []),
    html("p", { class: `sensor-said ${GOOD.has(line.kind) ? "ok" : "not"}`, role: "status", "data-kind": line.kind }, mark + line.said),
    html("ul", { class: "known" }, ...line.known.map((text) => html("li", {}, text))),
    level,
    ...(simulated ? [] : [html("p", { class: "row" }, link("Set up a sensor", "/sensor"))]),
    html("ul", { class: "ports-list" }, ...line.ports.map((port) => html("li", {}, port.said))));
}

function helicopters(state) {
  redraw($("helicopters"), ...state.helicopters.map((one) => row(one, state.open)));
  const again = state.simulated
    ? button("Leave the simulated head", () => act({ do: "leave_simulation" }))
    : button("Try it with a simulated head", () => act({ do: "simulate" }));
  redraw($("more"), link("New helicopter", "/helicopter", { class: state.helicopters.length ? "button" : "button first" }), link("Logbook", "/logbook"), again);
}

function row(one, open) {
  const mine = open && open.head === one.name;
  const stands = mine ? open : one.last;
  const last = !stands ? "no setup yet" : mine ? `setup ${stands.number} is open, ${stands.done} of ${stands.owed}` : `${day(stands.started_at)} · ${stands.said}`;
  const acts = mine
    ? [html("button", { type: "button", class: "button first", onclick: () => takeUp(open.number), "aria-label": `Continue setup ${open.number}` }, `Continue setup ${open.number}`)]
    : [html("button", { type: "button", class: "button", onclick: () => begin(one.name, open), "aria-label": `Begin a setup: ${one.name}` }, "Begin a setup")];
  return html("div", { class: `helicopter${mine ? " open" : ""}`, "data-name": one.name },
    html("span", { class: "name" }, one.name),
    html("span", { class: "last" }, stands ? html("a", { href: `/sheet/${stands.number}`, "aria-label": `Sheet of setup ${stands.number}: ${last}` }, last) : last),
    html("span", { class: "row" },
      html("a", { class: "quiet", href: `/helicopter?name=${encodeURIComponent(one.name)}`, "aria-label": `Describe ${one.name}` }, "describe"),
      one.setups > 1 ? html("a", { class: "quiet", href: `/history?head=${encodeURIComponent(one.name)}`, "aria-label": `History of ${one.name}` }, "history") : null,
      ...acts));
}

async function act(what) {
  const { refused } = await deed(what);
  refuse(refused);
  shown = "";
  await show();
}

async function takeUp(number) {
  const { refused } = await deed({ do: "take_up", setup: number });
  if (refused) return refuse(refused);
  location.assign(`/setup/${number}`);
}

/** Asks what is to be known of a new setup, none of it needed. */
export function begin(name, open) {
  const dialog = $("begin");
  const text = (id, label) => html("p", { class: "field" }, html("label", { for: id }, label), html("input", { id, type: "text", maxlength: 200, autocomplete: "off" }), html("span", { class: "usual" }, "May stay blank."));
  const after = html("select", { id: "after" }, html("option", { value: "" }, "nothing special"), html("option", { value: "crash" }, "it crashed or hit something"), html("option", { value: "parts replaced" }, "parts were replaced"));
  const off = html("select", { id: "blades" }, html("option", { value: "on" }, "on"), html("option", { value: "off" }, "off: the clip sits on the grips"));
  const why = html("p", { class: "refusal", role: "alert", hidden: true });
  const go = async () => {
    const value = (id) => document.getElementById(id).value;
    const { answer, refused } = await deed({
      do: "begin", head: name, reason: value("reason"), measured_by: value("measured-by"), after: value("after") || null,
      blades_off: value("blades") === "off", close: open?.number ?? null,
    });
    if (refused) {
      why.hidden = false;
      return write(why, refused.said);
    }
    location.assign(`/setup/${answer.setup}`);
  };
  redraw(dialog,
    html("h2", { id: "begin-title" }, `Begin a setup of ${name}`),
    ...(open ? [html("p", { class: "lead" }, `Setup ${open.number} of ${open.head} is still open. It is closed when this one begins; it can be opened again.`)] : []),
    text("reason", "Why it is measured"), text("measured-by", "Who measures"),
    html("p", { class: "field" }, html("label", { for: "after" }, "What happened before"), after, html("span", { class: "usual" }, "After a crash or new parts more is measured.")),
    html("p", { class: "field" }, html("label", { for: "blades" }, "Main blades"), off, html("span", { class: "usual" }, "Mostly on.")),
    why,
    html("p", { class: "row" }, button(open ? `Close setup ${open.number} and begin` : "Begin", go, { class: "first", id: "begin-now" }), button("Not now", () => dialog.close())));
  if (!dialog.open) dialog.showModal();
}

show();
setInterval(() => document.hidden || $("begin").open || show(), EVERY_MS);

// A helicopter that was just described leads here: its setup is begun at once.
const wanted = new URLSearchParams(location.search).get("begin");
if (wanted) {
  history.replaceState(null, "", "/");
  get("/api/state").then(({ answer }) => answer && begin(wanted, answer.open));
}
