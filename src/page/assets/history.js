// A helicopter over its setups: a chart a cell.
import { $, html, redraw } from "./draw.js";
import { get, refuse, title } from "./place.js";

const head = new URLSearchParams(location.search).get("head") ?? "";

async function show() {
  const { answer, refused } = await get(`/api/history?head=${encodeURIComponent(head)}`);
  if (refused) return refuse(refused);
  title(head);
  const at = (cell) => `/history.svg?head=${encodeURIComponent(head)}&cell=${encodeURIComponent(cell)}`;
  redraw($("charts"), ...answer.cells.filter((cell) => cell.values.length).map((cell) =>
    html("figure", {}, html("figcaption", {}, cell.cell), html("img", { src: at(cell.cell), alt: `${cell.cell}: ${cell.values.map((value) => `setup ${value.setup} ${value.value_deg.toFixed(2)} degrees`).join(", ")}`, loading: "lazy" }))));
}

show();
