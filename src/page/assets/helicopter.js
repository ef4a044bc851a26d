// A helicopter's form. What is blank stays blank; it is checked by the bench before it is kept.
import { $, html, redraw, set, write } from "./draw.js";
import { button, deed, get, link, refuse, title } from "./place.js";

const GROUPS = { rotor: "The rotor", link: "Pitch links", swash: "Swashplate and its servos", tail: "Tail rotor", targets: "What is wanted, degrees" };
const DRAFT = "clinoblade.helicopter";
const name = new URLSearchParams(location.search).get("name");
let inputs = new Map();

function input(field, value) {
  const id = `f-${field.key.replace(".", "-")}`;
  const choices = field.kind === "choice" ? field.of : field.kind === "switch" ? ["yes", "no"] : null;
  const node = choices
    ? html("select", { id, name: field.key }, html("option", { value: "" }, ""), ...choices.map((one) => html("option", { value: one }, one)))
    : html("input", { id, name: field.key, type: "text", inputmode: { number: "decimal", whole: "numeric" }[field.kind] ?? null, autocomplete: "off", maxlength: 120 });
  node.value = value ?? "";
  set(node, { "aria-describedby": `${id}-usual ${id}-fault`, "aria-required": field.needed ? "true" : null });
  inputs.set(field.key, node);
  return html("div", { class: "field", "data-key": field.key },
    html("label", { for: id }, field.label + (field.unit ? `, ${field.unit}` : "") + (field.needed ? "" : "")),
    node,
    html("span", { class: "usual", id: `${id}-usual` }, `${field.help} ${field.usual}`),
    html("span", { class: "fault", id: `${id}-fault`, hidden: true }));
}

const written = () => Object.fromEntries([...inputs].map(([key, node]) => [key, node.value.trim()]).filter(([, text]) => text));

// What was typed is there again after a reload, until it is kept.
function remember() {
  try {
    sessionStorage.setItem(DRAFT, JSON.stringify({ name, form: written() }));
  } catch { /* typed again, then */ }
}
function remembered() {
  try {
    const draft = JSON.parse(sessionStorage.getItem(DRAFT));
    return draft?.name === name ? draft.form : null;
  } catch {
    return null;
  }
}

function faults(list) {
  for (const line of document.querySelectorAll(".field")) {
    const fault = list.find((one) => one.key === line.dataset.key);
    const said = line.querySelector(".fault");
    line.classList.toggle("wrong", Boolean(fault));
    said.hidden = !fault;
    write(said, fault?.said ?? "");
    set(inputs.get(line.dataset.key), { "aria-invalid": fault ? "true" : null });
  }
  // The first on the page, whatever order they were told in.
  const first = [...inputs].find(([key]) => list.some((one) => one.key === key));
  first?.[1].focus();
}

async function keep() {
  const { answer, refused } = await deed({ do: "keep_head", form: written() });
  refuse(refused);
  faults(refused?.facts?.fields ?? []);
  if (refused) return;
  try {
    sessionStorage.removeItem(DRAFT);
  } catch { /* nothing was remembered */ }
  $("form").hidden = true;
  $("kept").hidden = false;
  title(`${answer.head.name} is kept.`);
  write($("means"), answer.said);
  redraw($("kept-row"), link("Begin a setup", `/?begin=${encodeURIComponent(answer.head.name)}`, { class: "button first", id: "begin-setup" }),
    button("Change it", () => { $("form").hidden = false; $("kept").hidden = true; title(answer.head.name); }), link("Start", "/"));
  $("kept-row").firstElementChild.focus();
}

async function show() {
  const { answer: form, refused } = await get(`/api/head${name ? `?name=${encodeURIComponent(name)}` : ""}`);
  if (refused) return refuse(refused);
  title(name ?? "Describe your helicopter");
  const values = remembered() ?? form.values;
  inputs = new Map();
  const copy = html("select", { id: "copy" }, html("option", { value: "" }, ""), ...form.helicopters.map((one) => html("option", {}, one)));
  copy.addEventListener("change", async () => {
    if (!copy.value) return;
    const { answer, refused: why } = await get(`/api/head?name=${encodeURIComponent(copy.value)}`);
    if (why) return refuse(why);
    const own = inputs.get("name").value;
    for (const [key, node] of inputs) node.value = answer.values[key] ?? "";
    inputs.get("name").value = own;
    remember();
  });
  const groups = Object.entries(GROUPS).map(([group, legend]) =>
    html("fieldset", {}, html("legend", {}, legend), ...form.fields.filter((field) => field.group === group).map((field) => input(field, values[field.key]))));
  redraw($("form"),
    ...(form.helicopters.length ? [html("div", { class: "field" }, html("label", { for: "copy" }, "Copy from"), copy, html("span", { class: "usual" }, "Fills in everything but the name."))] : []),
    ...groups,
    html("p", { class: "row" }, button("Check and keep", keep, { class: "first", id: "keep" }), link("Not now", "/")));
  $("form").addEventListener("input", remember);
  $("form").addEventListener("submit", (event) => { event.preventDefault(); keep(); });
}

show();
