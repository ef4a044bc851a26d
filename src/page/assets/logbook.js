// The logbook: every setup, old sheets, two beside each other, what goes out and comes in.
import { $, html, redraw, write } from "./draw.js";
import { button, day, deed, get, link, post, refuse } from "./place.js";

const query = new URLSearchParams(location.search);
const chosen = new Set();
let due = 0;

function row(setup) {
  const box = html("input", { type: "checkbox", "aria-label": `Compare setup ${setup.number}`, onchange: (event) => { event.target.checked ? chosen.add(setup.number) : chosen.delete(setup.number); acts(); } });
  box.checked = chosen.has(setup.number);
  const closed = setup.closed_at !== null;
  return html("tr", { "data-setup": setup.number },
    html("td", {}, box),
    html("th", { scope: "row" }, html("a", { href: `/sheet/${setup.number}`, "aria-label": `Sheet of setup ${setup.number}` }, `${setup.number}${closed ? "" : ", open"}`)),
    html("td", {}, html("a", { href: `/history?head=${encodeURIComponent(setup.head)}`, "aria-label": `History of ${setup.head}` }, setup.head)),
    html("td", { "data-name": "begun" }, day(setup.started_at)),
    html("td", {}, setup.reason),
    html("td", { "data-name": "captures" }, String(setup.captures)),
    html("td", {},
      html("button", { type: "button", class: "quiet", "aria-label": `${closed ? "Open setup" : "Continue setup"} ${setup.number}${closed ? " again" : ""}`, onclick: () => takeUp(setup.number, closed) }, closed ? "open again" : "continue"),
      html("a", { class: "quiet", href: `/export/${setup.number}.json`, download: "", "aria-label": `Export setup ${setup.number}` }, "export")));
}

async function takeUp(number, closed) {
  // Nobody knows what happened meanwhile: what zero and clip were is not taken for granted.
  const pause = closed ? { model_moved: true, clip_taken_off: true, sensor_changed: false } : undefined;
  const { refused } = await deed({ do: "take_up", setup: number, ...(pause ? { pause } : {}) });
  if (refused) return refuse(refused);
  location.assign(`/setup/${number}`);
}

function acts() {
  const two = [...chosen].sort((a, b) => a - b);
  const file = html("input", { type: "file", accept: "application/json,.json", class: "vh", id: "file", tabindex: "-1", "aria-label": "File to import" });
  file.addEventListener("change", async () => {
    if (!file.files.length) return;
    const { answer, refused } = await post("/import", await file.files[0].text());
    refuse(refused);
    if (answer) write($("said"), answer.said);
    show();
  });
  redraw($("acts"),
    two.length === 2 ? link(`Compare ${two[0]} and ${two[1]}`, `/compare/${two[0]}/${two[1]}`, { class: "button first", id: "compare" }) : html("span", { class: "lead" }, "Choose two to compare."),
    button("Import a setup", () => file.click()), file,
    link("Back up the logbook", "/backup.sqlite", { download: "" }));
}

async function show() {
  const search = $("search").value;
  const { answer, refused } = await get(`/api/setups?search=${encodeURIComponent(search)}`);
  refuse(refused);
  if (refused) return;
  write($("where"), answer.logbook ? `${answer.logbook}${answer.shared ? ", shared" : ""}${answer.waits ? `. ${answer.waits}` : ""}` : "Nothing is recorded yet.");
  redraw($("rows"), ...answer.setups.map(row));
  acts();
}

$("search").value = query.get("search") ?? "";
$("search").addEventListener("input", () => {
  clearTimeout(due);
  due = setTimeout(() => {
    const text = $("search").value;
    history.replaceState(null, "", text ? `/logbook?search=${encodeURIComponent(text)}` : "/logbook");
    show();
  }, 200);
});
show();
