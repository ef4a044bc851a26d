// The sensor: what is in use, and what each port says.
import { $, html, redraw } from "./draw.js";
import { button, deed, get, refuse } from "./place.js";

const EVERY_MS = 2500;
let shown = "";

async function show() {
  const { answer: state, refused } = await get("/api/state");
  refuse(refused);
  if (refused) return;
  const key = JSON.stringify(state.sensor);
  if (key === shown) return;
  shown = key;
  const line = state.sensor;
  const good = ["reading", "found"].includes(line.kind);
  redraw($("now"),
    ...(line.source ? [html("p", { class: "sensor-name" }, line.source)] : []),
    html("p", { class: `sensor-said ${good ? "ok" : "not"}`, role: "status", "data-kind": line.kind }, `${good ? "✓" : "✗"} ${line.said}`),
    html("ul", { class: "known" }, ...line.known.map((text) => html("li", {}, text))));
  $("ports-title").parentElement.hidden = state.simulated;
  redraw($("ports"), ...(line.ports.length ? line.ports.map((port) => html("div", { class: "helicopter" },
    html("span", { class: "name" }, port.path), html("span", { class: "last" }, port.said),
    html("span", { class: "row" }, button("Use this port", () => use(port.path), { "aria-label": `Use ${port.path}` })))) : [html("p", { class: "lead" }, "No serial port is there. Plug the sensor in: it appears by itself.")]));
}

async function use(port) {
  const { refused } = await deed({ do: "use_port", port });
  refuse(refused);
  shown = "";
  if (!refused) show();
}

show();
setInterval(() => document.hidden || show(), EVERY_MS);
