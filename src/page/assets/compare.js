// Two setups, cell by cell. What changed beyond its uncertainty is marked by a star and said in words.
import { $, html, plain, redraw, signed, write } from "./draw.js";
import { get, refuse, title } from "./place.js";

const [, , first, second] = location.pathname.split("/");
const WORDS = {
  changed: "changed", unchanged: "unchanged", cannot_tell: "cannot be told apart", only_first: "only in the first", only_second: "only in the second", neither: "in neither",
};

async function show() {
  const { answer, refused } = await get(`/api/compare?first=${Number(first)}&second=${Number(second)}`);
  if (refused) return refuse(refused);
  const changed = answer.cells.filter((cell) => cell.change === "changed").length;
  const both = answer.cells.some((cell) => cell.difference_deg !== null);
  const found = changed ? `${changed} changed` : both ? "nothing changed beyond its uncertainty" : "no cell holds a value in both";
  title(`Setup ${answer.first} and setup ${answer.second}: ${found}.`);
  redraw($("first"), html("a", { href: `/sheet/${answer.first}`, "aria-label": `Sheet of setup ${answer.first}` }, `setup ${answer.first}`));
  redraw($("second"), html("a", { href: `/sheet/${answer.second}`, "aria-label": `Sheet of setup ${answer.second}` }, `setup ${answer.second}`));
  const unlike = [];
  if (!answer.same_head) unlike.push("They are of two helicopters.");
  if (answer.description_changed) unlike.push("The description of the head has changed in between.");
  if (!answer.same_blades) unlike.push("The main blades were on in one of them only.");
  write($("provisos"), unlike.join(" "));
  const value = (degrees) => (degrees === null ? "–" : `${signed(degrees)}°`);
  redraw($("rows"), ...answer.cells.map((cell) =>
    html("tr", { class: cell.change === "changed" ? "changed" : "", "data-cell": cell.cell },
      html("th", { scope: "row" }, `${cell.change === "changed" ? "* " : ""}${cell.cell}`),
      html("td", { "data-name": "first" }, value(cell.first_deg)),
      html("td", { "data-name": "second" }, value(cell.second_deg)),
      html("td", { "data-name": "difference" }, cell.difference_deg === null ? "–" : `${signed(cell.difference_deg)}° ± ${plain(cell.expanded_uncertainty_deg)}°`),
      html("td", { "data-name": "" }, `${WORDS[cell.change] ?? cell.change} (${cell.verdicts.join(", ")})`))));
  $("suggests").hidden = !answer.suggests.length;
  redraw($("suggest-lines"), ...answer.suggests.map((line) => html("li", {}, line)));
}

show();
