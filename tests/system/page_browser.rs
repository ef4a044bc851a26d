//! The page in a real browser over a real pseudo-terminal. Pictures of each state lie in the tests' output folder, `page/`.

use clinoblade::bench::conductor::{LinkState, Sheet, Verdict};
use clinoblade::guide::{Instruction, Phase, Question};
use clinoblade::words::{Face, Say};
use serde_json::Value;
use std::time::Duration;
use support::bench::{Bench, LONG, Running, SimulatedHead, calibration};
use support::browser::{Driver, Feed, Window, play};

const SCENARIO: &str = "
seed = 4
head = { cyclic_deg = 9.0, pitch_arm_mm = 20.0, station_deg = 90.0 }
blades = { link_error_deg = [0.2, -1.1], droop_deg = [-1.0, -1.2] }
servos = { arm_offset_deg = [1.5, 0.0, -1.0], bind_buzz_deg = 0.15, buzz_hz = 31.0 }
tail = { travel_deg = 28.0, neutral_deg = 4.0 }
sensor = { noise_density_ug_rthz = 150.0 }
bind = [{ at = \"elevator down\", travel_deg = 8.0 }]
";

/// The bench page over a simulated head on a port.
struct Served {
    bench: Bench,
    head: SimulatedHead,
    _running: Running,
    /// The line's address, without `http://`.
    url: String,
    host: String,
    feed: Feed,
}

impl Served {
    fn start() -> Self {
        Self::listening("127.0.0.1:0", "The bench page: ")
    }

    /// Served at this address; its own is in the line that begins with `told`.
    fn listening(address: &str, told: &str) -> Self {
        let bench = Bench::with_setup_unread();
        let head = SimulatedHead::start(&bench, SCENARIO);
        let clip = bench.write("clip.toml", calibration("clip"));
        let port = head.port.clone();
        let arguments = ["bench", "--port", &port, "--calibration", &clip, "--listen", address, "--no-open"];
        let mut running = bench.start(&arguments);
        let line = running.wait_for_said(told);
        let url = line.split("http://").nth(1).unwrap().trim().to_owned();
        let host = url.split('/').next().unwrap().to_owned();
        let feed = if told.starts_with("The bench page") { Feed::of(&host) } else { Feed::none() };
        Self { bench, head, _running: running, url, host, feed }
    }

    fn url(&self) -> String {
        format!("http://{}/setup", self.host)
    }

    async fn play(&mut self, until: impl Fn(&Sheet) -> bool) -> Sheet {
        play(&self.feed, &mut self.head, |_| None, until, Duration::from_secs(200)).await
    }
}

/// Keeps what the page speaks and sounds.
const LISTEN: &str = "
window.heard = []; window.notes = [];
window.speechSynthesis.speak = (words) => { window.heard.push(words.text); };
const Plain = window.OscillatorNode;
window.OscillatorNode = class extends Plain { constructor(context, wishes) { super(context, wishes); window.notes.push(wishes.frequency); } };
return true";

/// What the control is called that has the keyboard.
const STANDS_ON: &str = "const at = document.activeElement; return at.getAttribute('aria-label') ?? at.textContent";

/// "Bound" was said although nothing was held.
const REFUSED: &str = "const line = document.getElementById('refusal');
return !line.hidden && line.dataset.kind === 'nothing_held'";

async fn acknowledge_and_arm(window: &Window) {
    window.wait_for("cautions", "return document.querySelectorAll('.caution').length === 9", LONG).await;
    window.picture("1-cautions").await;
    for line in 0..9 {
        window.click(".caution[aria-pressed='false']").await;
        let marked = format!(
            "return document.querySelectorAll(\".caution[aria-pressed='true']\").length > {line} || document.getElementById('cautions').hidden"
        );
        window.wait_for("a line marked", &marked, LONG).await;
    }
    window.wait_for("idle", "return !document.getElementById('arm').hidden", LONG).await;
    window.picture("2-idle").await;
    window.click("#arm").await;
    window
        .wait_for("armed", "return document.getElementById('arm').getAttribute('aria-checked') === 'true'", LONG)
        .await;
}

/// What an auditor of accessible pages looks for first: names, roles, labels, contrast of every text that is seen.
const AUDIT: &str = r"
const found = [];
const seen = (e) => { const b = e.getBoundingClientRect(); const s = getComputedStyle(e); return b.width > 0 && b.height > 0 && s.visibility !== 'hidden'; };
const name = (e) => e.getAttribute('aria-label') || (e.labels && e.labels.length && e.labels[0].textContent) || e.textContent.trim() || e.title;
for (const e of document.querySelectorAll('button, input, select, a, summary')) if (seen(e) && !name(e)) found.push('no name: ' + e.outerHTML.slice(0, 80));
for (const e of document.querySelectorAll('[aria-labelledby]')) if (seen(e) && !document.getElementById(e.getAttribute('aria-labelledby'))) found.push('labelled by nothing: ' + e.id);
const ids = [...document.querySelectorAll('[id]')].map((e) => e.id);
for (const id of new Set(ids)) if (ids.filter((x) => x === id).length > 1) found.push('twice: ' + id);
if (!document.documentElement.lang) found.push('no language');
if (document.querySelectorAll('h1').length !== 1) found.push('not one h1');
if (!document.querySelector('main')) found.push('no main');
const channel = (v) => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; };
const parse = (c) => (c.match(/[\d.]+/g) || []).map(Number);
const light = ([r, g, b]) => 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b);
const ground = (e) => { for (; e; e = e.parentElement) { const c = parse(getComputedStyle(e).backgroundColor); if (c.length === 3 || c[3] === 1) return c; } return [255, 255, 255]; };
for (const e of document.querySelectorAll('h1, h2, h3, p, span, td, th, button, li, label, summary')) {
  const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
  if (!own || !seen(e) || e.closest('.vh')) continue;
  const s = getComputedStyle(e);
  const ink = parse(s.color);
  if (ink[3] === 0) continue;
  const [a, b] = [light(ink), light(ground(e))].sort((x, y) => y - x);
  const ratio = (a + 0.05) / (b + 0.05);
  const large = parseFloat(s.fontSize) >= 24;
  if (ratio < (large ? 3 : 4.5)) found.push(ratio.toFixed(2) + ' contrast: ' + e.textContent.trim().slice(0, 40));
}
const unseen = (e) => { for (; e; e = e.parentElement) if (getComputedStyle(e).opacity === '0') return true; return false; };
for (const e of document.querySelectorAll('svg text')) {
  if (!seen(e) || unseen(e)) continue;
  const s = getComputedStyle(e);
  const [a, b] = [light(parse(s.fill)), light(ground(e))].sort((x, y) => y - x);
  const ratio = (a + 0.05) / (b + 0.05);
  if (ratio < 4.5) found.push(ratio.toFixed(2) + ' contrast in a drawing: ' + e.textContent.trim());
  const size = parseFloat(s.fontSize) * e.getScreenCTM().d;
  if (size < 10) found.push(size.toFixed(1) + ' px in a drawing: ' + e.textContent.trim());
}
if (document.querySelector('#board:not([hidden])') && ![...document.querySelectorAll('svg text')].some(seen)) found.push('no text in any drawing');
for (const e of document.querySelectorAll('svg'))
  if (seen(e) && !e.closest('[aria-hidden=true]') && !(e.getAttribute('role') === 'img' && e.getAttribute('aria-label'))) found.push('a drawing without a name: ' + e.outerHTML.slice(0, 60));
for (const e of document.querySelectorAll('img')) if (!e.alt) found.push('a picture without a name: ' + e.src);
return found;
";

async fn audit(window: &Window, when: &str) {
    let found = window.run(AUDIT).await;
    assert_eq!(found, Value::Array(Vec::new()), "{when}");
    let wide = window.run("return document.documentElement.scrollWidth <= window.innerWidth + 1").await;
    assert_eq!(wide, true, "{when}: nothing hangs over the edge");
}

/// From the first caution to the finished sheet: nothing is clicked after the switch, a bind is met, the cable is pulled and
/// put back, a second screen and a phone in the dark look on.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_whole_job_hands_free_on_the_page() {
    let driver = Driver::start();
    let mut served = Served::start();
    let (url, host) = (served.url(), served.host.clone());
    let wide = driver.window(1440, 900).await;
    let phone = driver.window(390, 844).await;
    phone.dark().await;
    wide.open(&url).await;
    phone.open(&url).await;
    audit(&wide, "cautions").await;
    wide.run(LISTEN).await;
    acknowledge_and_arm(&wide).await;
    audit(&wide, "placing").await;
    wide.picture("3-place").await;

    for (phase, name) in [
        (Phase::CheckStick, "3-check-stick"),
        (Phase::Neutral, "3-neutral"),
        (Phase::Cable, "3-cable"),
        (Phase::Move, "4-move"),
    ] {
        served.play(|sheet| sheet.step.phase == phase).await;
        wide.picture(name).await;
    }
    phone.picture("4-move-phone-dark").await;
    audit(&phone, "on a phone in the dark").await;
    served.play(|sheet| sheet.step.phase == Phase::Approaching).await;
    tokio::time::sleep(Duration::from_secs(1)).await;
    wide.picture("5-approaching").await;
    for (phase, name) in [(Phase::Return, "5-return"), (Phase::BackOff, "6-back-off")] {
        served.play(|sheet| sheet.step.phase == phase).await;
        wide.picture(name).await;
    }

    // Elevator down binds: it is backed off and captured just short of it.
    let sheet = served.play(|sheet| cell(sheet, "elevator down").verdict == Verdict::Bound).await;
    let bound = cell(&sheet, "elevator down").value_deg.unwrap();
    assert!((6.0..8.3).contains(&bound), "{bound}");
    wide.picture("6-bound").await;

    // The cable is pulled in the middle, and put back.
    // A tablet's tab is asleep from here to the end.
    let tablet = driver.window(820, 1180).await;
    tablet.open(&url).await;
    tablet.devtools("Page.setWebLifecycleState", serde_json::json!({ "state": "frozen" })).await;
    served.head.tell("unplug");
    served.play(|sheet| sheet.link.state == LinkState::Waiting).await;
    wide.wait_for("said on the page", "return !document.getElementById('connection').hidden", LONG).await;
    wide.picture("7-unplugged").await;
    served.head.tell("replug");
    served.play(|sheet| sheet.link.state == LinkState::Reading).await;

    served.play(|sheet| sheet.step.phase == Phase::OnceMore).await;
    wide.picture("7-once-more").await;

    // The page's clock stands still for ten seconds; the record does not.
    phone.devtools("Emulation.setVirtualTimePolicy", serde_json::json!({ "policy": "pause" })).await;
    let sheet = served.play(|sheet| sheet.step.phase == Phase::Done).await;
    phone.devtools("Emulation.setVirtualTimePolicy", serde_json::json!({ "policy": "advance" })).await;
    // The stick still goes where the linkage binds: that end is in question, with what to do, and nothing else is.
    let open = |sheet: &Sheet| -> Vec<String> {
        let of = sheet.cells.iter().filter(|cell| matches!(cell.verdict, Verdict::InQuestion | Verdict::Missing));
        of.map(|cell| cell.name.join(" ")).collect()
    };
    assert_eq!(open(&sheet), ["elevator down"], "{:#?}", sheet.cells);
    assert!(cell(&sheet, "elevator down").consequence.contains("Lower its end point"), "{:#?}", sheet.cells);
    assert!(!sheet.complete);
    // Its end point is lowered, and it is captured again.
    served.head.tell("endpoint elevator down 80");
    wide.run("document.querySelectorAll('button.unfold[aria-expanded=false]').forEach((b) => b.click()); return true")
        .await;
    wide.click("button[aria-label='redo: elevator down']").await;
    served.play(|sheet| sheet.step.phase != Phase::Done).await;
    let sheet = served.play(|sheet| sheet.step.phase == Phase::Done).await;
    assert!(sheet.complete && open(&sheet).is_empty(), "{:#?}", sheet.cells);
    wide.wait_for("done", "return document.body.dataset.state === 'done'", LONG).await;
    wide.picture("8-done").await;
    audit(&wide, "done").await;
    phone.wait_for("done on the phone", "return document.body.dataset.state === 'done'", LONG).await;
    phone.picture("8-done-phone-dark").await;
    tablet.devtools("Page.setWebLifecycleState", serde_json::json!({ "state": "active" })).await;
    tablet.wait_for("the tablet awake", "return document.body.dataset.state === 'done'", LONG).await;
    tablet.picture("8-done-tablet").await;

    // What was heard: each step, each value, a tone on the way to each end.
    let heard = wide.run("return [window.heard.join(' | '), window.notes.length]").await;
    let (said, notes) = (heard[0].as_str().unwrap(), heard[1].as_u64().unwrap());
    for words in [
        "Clip on blade B",
        "Let the stick go back.",
        "elevator up: ",
        "It buzzes: back off",
        "Lift the cable",
        "Once more: rudder",
    ] {
        assert!(said.contains(words), "never said: {words}\n{said}");
    }
    assert!(notes > 30, "{notes} notes");

    // What is recorded is what stands on the page, in the logbook.
    let check = served.bench.run(&["check", "--json"]).json();
    for name in ["elevator up", "aileron left", "aileron right", "rudder left", "rudder right"] {
        let kept = check["cells"].as_array().unwrap().iter().find(|cell| cell["cell"] == name).unwrap().clone();
        // Of the tail the page shows the pitch by which it is judged.
        let judged = kept["stands"]["pitch_deg"].as_f64().or(kept["value_deg"].as_f64()).unwrap();
        assert!((judged - cell(&sheet, name).value_deg.unwrap()).abs() < 1e-9, "{name}");
    }
    for (window, who) in [(&wide, "wide"), (&phone, "phone")] {
        assert_eq!(window.complaints(&format!("http://{host}/")).await, Vec::<String>::new(), "{who}");
    }
}

/// A head that is not turned although it was asked for: the page asks, and the answer is given by a key.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn contradictions_are_asked_about_on_the_page_and_answered_by_a_key() {
    let driver = Driver::start();
    let mut served = Served::start();
    let window = driver.window(1024, 768).await;
    window.open(&served.url()).await;
    // It stands wrong before anything is asked for: a page that is slow gives nobody a place that is right by chance.
    for line in ["clip B forward over 0.8", "head 90 over 0.8"] {
        served.head.tell(line);
    }
    acknowledge_and_arm(&window).await;
    let wrong = |sheet: &Sheet| {
        (sheet.step.phase == Phase::Place).then(|| vec!["clip B forward over 0.8".into(), "head 90 over 0.8".into()])
    };
    let (feed, head) = (served.feed.clone(), &mut served.head);
    play(&feed, head, wrong, |sheet| sheet.step.phase == Phase::Question, LONG).await;
    window.wait_for("the question", "return document.querySelectorAll('#choices .choice').length >= 2", LONG).await;
    window.picture("9-question").await;
    audit(&window, "question").await;
    let up = "elevator up".parse().unwrap();
    let asked = feed.sheet().unwrap().step.instruction;
    let about = |question| matches!(question, Question::Contradicted { way, raised: false, .. } if way == up);
    assert!(matches!(asked, Instruction::Answer { question } if about(question)), "{asked:?}");
    assert_eq!(window.text("#sentence").await, asked.say(Face::Page));
    let aloud = window.run("return document.getElementById('speak-live').textContent").await;
    let aloud = aloud.as_str().unwrap();
    assert!(aloud.contains("Either the blade") && aloud.contains("key 1.") && !aloud.contains(".."), "{aloud}");
    assert_eq!(window.run("return document.body.dataset.instruction").await, "answer");
    // Put right while the question stands, and said so.
    for line in ["clip A forward over 0.8", "head 90 over 0.8"] {
        head.tell(line);
    }
    window.client.active_element().await.unwrap().send_keys("1").await.unwrap();
    window.wait_for("placed again", "return document.body.dataset.instruction !== 'answer'", LONG).await;
    let sheet = feed.sheet().unwrap();
    let filled: Vec<_> = sheet.cells.iter().filter(|cell| cell.value_deg.is_some()).map(|cell| &cell.name).collect();
    assert!(filled.is_empty(), "no wrong cell: {filled:?} at {:#?}", sheet.step);

    // The first cell fills; redone from the page, its earlier value is kept.
    let sheet = served.play(|sheet| cell(sheet, "blade B zero").value_deg.is_some()).await;
    assert_eq!(cell(&sheet, "blade B zero").history.len(), 0);
    // Its link is long by more than a degree: what to turn stands under the row, once both blades were read.
    let sheet = served.play(|sheet| cell(sheet, "blade B zero").advice.is_some()).await;
    let advice = cell(&sheet, "blade B zero").advice.clone().unwrap();
    assert!(advice.starts_with("Turn the link of blade B") && advice.contains("half-turn"), "{advice}");
    let shown =
        format!("return [...document.querySelectorAll('#cells .advice')].some((p) => p.textContent === {advice:?})");
    window.wait_for("the advice under its row", &shown, LONG).await;
    window
        .run("document.querySelectorAll('button.unfold[aria-expanded=false]').forEach((b) => b.click()); return true")
        .await;
    window.click("button[aria-label='redo: blade B zero']").await;
    let sheet = served.play(|sheet| cell(sheet, "blade B zero").history.len() == 1).await;
    assert!(cell(&sheet, "blade B zero").value_deg.is_some());
}

/// The list of steps is changed, a key of a foot switch given a deed and held, the voice switched off: all on the page.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn order_foot_switch_and_voice_are_the_persons_on_the_page() {
    let driver = Driver::start();
    let mut served = Served::start();
    let window = driver.window(1280, 900).await;
    window.open(&served.url()).await;
    window.run(LISTEN).await;
    acknowledge_and_arm(&window).await;
    let feed = served.feed.clone();
    let labels = || feed.sheet().unwrap().order.iter().map(|line| line.label.clone()).collect::<Vec<_>>();
    let first = labels();
    assert_eq!(first[..2], ["blade A zero at 90°", "blade A zero at 270°"]);
    assert_eq!(first[2..6], ["blade B zero at 90°", "blade B zero at 270°", "cable", "elevator up"]);

    // The list: elevator up one earlier, then straight to it, and left out for now.
    window.run("document.querySelectorAll('details').forEach((d) => { d.open = true; }); return true").await;
    window.click("#order-lines button[aria-label='earlier: elevator up']").await;
    window
        .wait_for(
            "moved",
            "return document.querySelectorAll('#order-lines .order-name')[4].textContent === 'elevator up'",
            LONG,
        )
        .await;
    served.play(|sheet| sheet.order[4].label == "elevator up").await;
    assert_eq!(labels()[4..6], ["elevator up", "cable"]);
    // The list was drawn anew, and whoever stood on a control of it still does.
    assert_eq!(window.run(STANDS_ON).await, "earlier: elevator up");
    window.click("#order-lines button[aria-label='go to: elevator up']").await;
    window
        .wait_for(
            "at hand",
            "return document.activeElement.id === 'order-lines' && Boolean(document.querySelector(\"#order-lines button[aria-label='skip: elevator up']\"))",
            LONG,
        )
        .await;

    // While the stick is waited for "c" is an answer's key too: held three seconds it still means bound, which is refused
    // because nothing is held; a short press would have been refused in other words.
    window.run("document.querySelector('#choices .choice:last-child').focus(); return true").await;
    assert_eq!(window.run(STANDS_ON).await, "Leave this out for nowS");
    served.play(|sheet| sheet.step.phase == Phase::Move).await;
    window.wait_for("three answers", "return document.querySelectorAll('#choices .choice').length === 3", LONG).await;
    assert_eq!(window.run(STANDS_ON).await, "Leave this out for nowS");
    let press = |event: &str, key: &str| {
        format!(
            "document.body.dispatchEvent(new KeyboardEvent('{event}', {{ key: '{key}', bubbles: true }})); return true"
        )
    };
    window.run(&press("keydown", "c")).await;
    window.wait_for("bound was refused", REFUSED, LONG).await;
    window.run(&press("keyup", "c")).await;

    window.click("#order-lines button[aria-label='skip: elevator up']").await;
    window
        .wait_for(
            "left out",
            "return document.querySelectorAll('#order-lines .order-state')[4].textContent === 'skipped'",
            LONG,
        )
        .await;
    window.picture("10-order").await;

    // The refusal fades; what comes after is another.
    window.wait_for("faded", "return document.getElementById('refusal').hidden", LONG).await;
    // A foot switch sends F8: it is given "capture now", and held three seconds it means bound.
    window.key("?").await;
    window.wait_for("the keys", "return document.getElementById('keys').open", LONG).await;
    window.click("[data-deed='capture']").await;
    window.key("\u{E038}").await;
    window
        .wait_for("learned", "return document.querySelector(\"[data-deed='capture'] kbd\").textContent === 'F8'", LONG)
        .await;
    window.picture("11-keys").await;
    window.run("document.getElementById('keys').close(); return true").await;
    window.run(&press("keydown", "F8")).await;
    assert_eq!(window.run("return document.body.dataset.holding").await, "yes", "a key that is held is waited for");
    window.wait_for("bound was said", REFUSED, LONG).await;
    window.run(&press("keyup", "F8")).await;
    window.run("window.before = true; location.reload(); return true").await;
    window.wait_for("loaded anew", "return window.before === undefined", LONG).await;
    window.wait_for("kept over a reload", "return localStorage.getItem('clinoblade.keys').includes('F8')", LONG).await;

    // The voice is silent once it is switched off, and the page keeps that.
    window.wait_for("loaded", "return document.getElementById('sentence').textContent.length > 10", LONG).await;
    window.run(LISTEN).await;
    window.key("v").await;
    window
        .wait_for(
            "off",
            "return document.getElementById('switch-voice').getAttribute('aria-checked') === 'false'",
            LONG,
        )
        .await;
    // What was said before that is no matter.
    window.run("window.heard = []; return true").await;
    window.key("s").await;
    tokio::time::sleep(Duration::from_secs(1)).await;
    assert_eq!(window.run("return window.heard.filter((words) => words).length").await, 0);
    // "Bound" was refused, as it should be; nothing else went wrong.
    let complaints = window.complaints(&format!("http://{}/", served.host)).await;
    assert!(complaints.iter().all(|line| line.contains("409 (Conflict)")), "{complaints:?}");
}

/// Where others can reach it, a browser gets nothing before it is paired, and the page afterwards.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn phones_are_let_in_on_the_page_by_their_code() {
    let driver = Driver::start();
    let served = Served::listening("0.0.0.0:0", "Scan it with the phone");
    let phone = driver.window(390, 844).await;
    phone.open(&served.url()).await;
    assert!(!phone.text("body").await.contains("motor"), "nothing of the page before pairing");
    phone.open(&format!("http://{}", served.url)).await;
    phone
        .wait_for(
            "the start",
            "return location.pathname === '/' && Boolean(document.querySelector('.helicopter.open'))",
            LONG,
        )
        .await;
    phone.open(&served.url()).await;
    phone.wait_for("cautions", "return document.querySelectorAll('.caution').length === 9", LONG).await;
    phone.picture("12-paired-phone").await;
    // The code is used up: another device gets nothing for it.
    let other = driver.window(390, 844).await;
    other.open(&format!("http://{}", served.url)).await;
    assert!(!other.text("body").await.contains("motor"));
}

fn cell<'a>(sheet: &'a Sheet, name: &str) -> &'a clinoblade::bench::conductor::Cell {
    let name = name.parse().unwrap();
    sheet.cells.iter().find(|cell| cell.cell == name).unwrap()
}
