// Puts the page together: events in from the feed, drawings out; what a person does goes back as one act.
import { Aloud } from "./aloud.js";
import { Cells } from "./cells.js";
import { $, html, redraw, set, write } from "./draw.js";
import { act, listen } from "./feed.js";
import { deed } from "./place.js";
import { Room } from "./room.js";
import { Turned, leaveOut } from "./turned.js";
import { Hands } from "./hands.js";
import { Keys } from "./keys.js";
import { Margin } from "./margin.js";
import { Plan } from "./plan.js";
import { Reading } from "./reading.js";
import { Section } from "./section.js";
import { Step } from "./step.js";
import { Trace } from "./trace.js";
import { Tone, Voice } from "./voice.js";

let sheet = null;
let newest = null;
let connected = false;
let refusing = 0;

// A tab that slept gets its cues late and all at once; old cues are dropped, the sheet says what counts.
let awake = performance.now();
setInterval(() => { awake = performance.now(); }, 250);
const late = () => !document.hidden && performance.now() - awake > 2000;

const voice = new Voice();
const tone = new Tone();

function refuse({ said, kind }) {
  clearTimeout(refusing);
  write($("refusal"), said);
  set($("refusal"), { "data-kind": kind ?? null });
  $("refusal").hidden = false;
  refusing = setTimeout(() => { $("refusal").hidden = true; }, 8000);
}

const doing = {
  async act(what) {
    const refused = await act(what);
    if (refused) refuse(refused);
    else $("refusal").hidden = true;
  },
  arm() {
    voice.begin();
    tone.begin();
    doing.act({ do: sheet?.armed ? "disarm" : "arm" });
  },
  choice(i) {
    const choice = sheet?.step.choices?.[i];
    if (choice) doing.act(choice.act);
    return Boolean(choice);
  },
  run(name) {
    const deeds = {
      capture: () => (cautious() ? acknowledge() : doing.act({ do: "confirm" })),
      bound: () => doing.act({ do: "bound" }),
      undo: () => doing.act({ do: "undo" }),
      skip: () => doing.act({ do: "skip" }),
      yes: () => doing.choice(0),
      no: () => doing.choice(1),
      arm: () => cautious() || doing.arm(),
      voice: () => { voice.begin(); voice.switch(!voice.on); margin.switches(); },
      tones: () => { tone.begin(); tone.switch(!tone.on); margin.switches(); },
      keys: () => keys.show(),
      room: () => room.toggle(),
      turned: () => cautious() || doing.turned(null),
    };
    deeds[name]?.();
  },
};

doing.turned = async (cell) => {
  const refused = await turned.ask(sheet.setup.number, cell);
  if (refused) refuse(refused);
};
doing.advised = async (cell) => {
  const refused = await turned.advised(sheet.setup.number, cell.turns);
  if (refused) refuse(refused);
};
doing.leaveOut = (cell) => leaveOut(sheet.setup.number, cell);

const cautious = () => sheet?.cautions.some((line) => !line.acknowledged) ?? true;

function acknowledge() {
  const line = sheet?.cautions.findIndex((caution) => !caution.acknowledged) ?? -1;
  if (line >= 0) doing.act({ do: "acknowledge", line });
}

/** A key that an answer carries itself, or its number. */
function choiceKey(key) {
  const choices = sheet?.step.choices ?? [];
  const i = choices.findIndex((choice, n) => choice.key?.toLowerCase() === key || (!choice.key && key === String(n + 1)));
  return i >= 0 && doing.choice(i);
}

const keys = new Keys((name) => doing.run(name), choiceKey);
const margin = new Margin(doing, keys, voice, tone);
const step = new Step(doing);
const cells = new Cells(doing);
const plan = new Plan();
const section = new Section();
const trace = new Trace();
const reading = new Reading();
const hands = new Hands(refuse);
const aloud = new Aloud();
const turned = new Turned();
const room = new Room();
const asked = Number(location.pathname.split("/")[2]) || null;

keys.changed = () => { margin.labels(); if (sheet) step.draw(sheet, (name) => keys.label(name)); };
reading.gone = () => { newest = null; section.show(null); tone.follow(null); };

// A page that was loaded again while the sequence runs gets its sound back with the first touch.
for (const touch of ["pointerdown", "keydown"]) document.addEventListener(touch, () => tone.begin(), { once: true });

function connection() {
  const said = !connected
    ? "The page has lost the bench and is trying again. What was captured is kept there."
    : sheet?.link.said ?? "";
  $("connection").hidden = !said;
  write($("connection"), said);
}

/** What was recorded while a shared logbook cannot be reached, as the server says it: kept on this bench, and not there yet. */
function waiting(said) {
  $("waiting").hidden = !said;
  write($("waiting"), said ?? "");
}

/** What leads on from a setup that is done: its sheet; one that is closed can be opened again, and offers nothing else. */
let waysKey = "";
function ways({ setup, step, finished }) {
  set(document.body, { "data-finished": finished ? "yes" : null });
  const key = `${setup.number} ${finished} ${step.state}`;
  if (key === waysKey) return;
  waysKey = key;
  const again = async () => {
    // Nobody knows what happened meanwhile: what zero and clip were is not taken for granted.
    const { refused } = await deed({ do: "take_up", setup: setup.number, pause: { model_moved: true, clip_taken_off: true, sensor_changed: false } });
    if (refused) refuse(refused);
  };
  redraw($("ways"),
    ...(finished || step.state === "done" ? [html("a", { class: "button first", href: `/sheet/${setup.number}` }, "The sheet")] : []),
    ...(finished ? [html("button", { type: "button", class: "button", onclick: again }, "Open it again"), html("a", { class: "button", href: "/" }, "Start")] : []));
}

/** No setup is on the bench, or another one than the address names. */
async function elsewhere(said, number) {
  $("elsewhere").hidden = !said;
  document.body.dataset.elsewhere = said ? "yes" : "no";
  if (!said) return;
  write($("sentence"), said);
  const takeUp = async () => {
    const { refused } = await deed({ do: "take_up", setup: number });
    if (refused) refuse(refused);
    else location.assign(`/setup/${number}`);
  };
  redraw($("elsewhere"), html("p", { class: "row" },
    ...(number ? [html("button", { type: "button", class: "button first", onclick: takeUp }, `Put setup ${number} on the bench`), html("a", { class: "button", href: `/sheet/${number}` }, `Sheet of setup ${number}`)] : []),
    html("a", { class: "button", href: "/" }, "Start")));
}

listen({
  idle() {
    connected = true;
    connection();
    elsewhere(asked ? `Setup ${asked} is not on the bench.` : "No setup is on the bench.", asked);
  },
  sheet(next) {
    if (asked && next.setup.number !== asked) {
      connected = true;
      connection();
      return elsewhere(`Setup ${next.setup.number} of ${next.setup.head} is on the bench, not setup ${asked}.`, asked);
    }
    elsewhere(null);
    const armed = sheet?.armed;
    sheet = next;
    voice.otherwise = next.voice;
    tone.otherwise = next.tones;
    step.draw(next, (name) => keys.label(name));
    plan.draw(next);
    section.draw(next);
    trace.target(next.section);
    reading.step(next.step);
    cells.draw(next);
    margin.draw(next, newest);
    margin.drawPictures(next.pictures);
    margin.switches();
    hands.draw(next);
    aloud.step(next.step);
    if (armed && !next.armed) tone.follow(null);
    connection();
    waiting(next.waits);
    ways(next);
    room.draw(next);
    $("to-sheet").hidden = false;
    set($("to-sheet"), { href: `/sheet/${next.setup.number}` });
    document.title = `${next.step.sentence} · ${next.setup.head}`;
  },
  trace(points) {
    trace.begin(points);
  },
  live(live) {
    if (!live) return;
    newest = live;
    reading.show(live);
    section.show(live);
    room.live(live, sheet);
    trace.push(live);
    tone.beat();
    aloud.live(live);
    if (sheet) margin.draw(sheet, live);
  },
  cue(cue) {
    if (late()) return;
    if (cue.say) voice.say(cue.say);
    if ("tone" in cue) tone.follow(cue.tone);
    if (!cue.mark) return;
    tone.mark(cue.mark);
    if (cue.mark === "captured" && newest) {
      // The stretch comes with the mark; without it, it is as long as the step asked the blade to be held.
      const to = cue.to_s ?? newest.clock_s;
      trace.captured(cue.from_s ?? to - (sheet?.step.hold_s || 1.5), to);
    }
  },
  connection(state) {
    connected = state === "reading";
    if (!connected) tone.follow(null);
    connection();
  },
});
