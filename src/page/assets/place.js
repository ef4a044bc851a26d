// What all places share: asking the bench, and saying why something was not done. Facts come by type; sentences come along
// with them, and nothing is decided by reading one.
import { $, html, set, write } from "./draw.js";

const LOST = { said: "The bench does not answer. What was captured is kept there.", kind: "lost" };

async function answered(request) {
  try {
    const answer = await request;
    const body = answer.status === 204 ? {} : await answer.json().catch(() => ({}));
    if (answer.ok) return { answer: body };
    return { refused: { said: body.said ?? "The bench did not take that.", kind: body.refusal?.kind, facts: body.refusal?.facts } };
  } catch {
    return { refused: LOST };
  }
}

/** Asks for what a place shows: `{ answer }`, or `{ refused }` with `said`, `kind` and `facts`. */
export const get = (path) => answered(fetch(path, { headers: { accept: "application/json" } }));

/** Does something besides captures. */
export const deed = (what) => post("/do", JSON.stringify(what));

export const post = (path, body) =>
  answered(fetch(path, { method: "POST", headers: { "content-type": "application/json", "x-clinoblade": "1" }, body }));

/** Says why something was not done, where the person looks. */
export function refuse(refused) {
  const line = $("refusal");
  if (!line) return;
  line.hidden = !refused;
  write(line, refused?.said ?? "");
  set(line, { "data-kind": refused?.kind ?? null });
  if (refused) line.scrollIntoView?.({ block: "nearest" });
}

export const button = (label, run, more = {}) => html("button", { type: "button", ...more, class: more.class ? `button ${more.class}` : "button", onclick: run }, label);
export const link = (label, href, more = {}) => html("a", { class: "button", href, ...more }, label);

/** Marks in the list of places where the person is. */
export function here() {
  for (const a of document.querySelectorAll(".places a"))
    set(a, { "aria-current": new URL(a.href).pathname === location.pathname ? "page" : null });
}

export function title(text) {
  write($("title"), text);
  document.title = `${text} · clinoblade`;
}

const DAY = new Intl.DateTimeFormat(undefined, { day: "numeric", month: "long", year: "numeric" });
export const day = (at) => DAY.format(new Date(at));

here();
