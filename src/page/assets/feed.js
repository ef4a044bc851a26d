// The one way in and the one way out. In: server-sent events, the newest counts. Out: what a person does.
// EventSource connects again by itself; every connection begins with a whole sheet and the last twenty seconds, so a
// tab that slept has nothing to catch up on.

/** Listens; `on` has sheet, trace, live, cue, idle and connection("reading" | "lost"). */
export function listen(on) {
  const source = new EventSource("/feed");
  const hand = (name) => source.addEventListener(name, (event) => {
    let body;
    try {
      body = JSON.parse(event.data);
    } catch {
      return; // a damaged event: the next one stands for itself
    }
    on[name](body);
  });
  ["sheet", "trace", "live", "cue", "idle"].forEach(hand);
  source.addEventListener("open", () => on.connection("reading"));
  source.addEventListener("error", () => {
    on.connection("lost");
    // A refused answer closes the source for good; only then do we knock again ourselves.
    if (source.readyState === EventSource.CLOSED) setTimeout(() => listen(on), 2000);
  });
}

async function post(path, body) {
  try {
    const answer = await fetch(path, {
      method: "POST",
      headers: { "content-type": "application/json", "x-clinoblade": "1" },
      body: JSON.stringify(body),
    });
    if (answer.ok) return null;
    const why = await answer.json().catch(() => null);
    return { said: why?.said ?? "The bench did not take that.", kind: why?.refusal?.kind };
  } catch {
    return { said: "The bench does not answer. What was captured is kept there." };
  }
}

/** Does something; answers null, or why it was refused: `said` in words, and of what `kind` the refusal is. */
export const act = (what) => post("/act", what);

/** Demo only: a line for the simulated hands. */
export const rig = (line) => post("/rig", { line });
