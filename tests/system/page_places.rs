//! The whole job on the page in a real browser, from an empty data directory, with never a command in between: a simulated
//! head, a helicopter by form, captures, a link that is turned, the sheet on paper, a second setup, and both compared.

use clinoblade::bench::conductor::{Cell, Sheet, Verdict, hands};
use clinoblade::rig::{Rig, Scenario};
use clinoblade::units::Seconds;
use serde_json::{Value, json};
use std::time::{Duration, Instant};
use support::bench::{Bench, LONG};
use support::browser::{Driver, Feed, Window, pictures};
use support::page;

/// The simulated head of the page, as it comes to the bench.
const SCENARIO: &str = include_str!("../../src/cli/demo/scenario.toml");

/// A stick that is moved and waited for in the time of life.
const WITHIN: Duration = Duration::from_secs(240);

struct Job {
    host: String,
    window: Window,
    feed: Feed,
}

impl Job {
    /// Types into a field, or chooses in it.
    async fn fill(&self, field: &str, text: &str) {
        self.window.click(field).await;
        self.window.write(field, text).await;
    }

    /// The simulated hands do what a person does with them.
    async fn hand(&self, line: &str) {
        if let Some(seconds) = line.strip_prefix("wait ") {
            return tokio::time::sleep(Duration::from_secs_f64(seconds.parse().unwrap())).await;
        }
        let (status, answer) = page::post(&self.host, "/rig", &json!({ "line": line }));
        assert_eq!(status, 204, "{line}: {answer}");
    }

    async fn play(&self, until: impl Fn(&Sheet) -> bool) -> Sheet {
        let deadline = Instant::now() + WITHIN;
        let mut done_for = None;
        loop {
            let sheet = self.feed.sheet().expect("a sheet");
            if until(&sheet) {
                return sheet;
            }
            assert!(Instant::now() < deadline, "it does not come to its end: {:#?}", sheet.step);
            let step = (sheet.step.phase, sheet.step.instruction, sheet.step.number);
            let again = done_for
                .as_ref()
                .is_none_or(|(done, at): &(_, Instant)| *done != step || at.elapsed() > Duration::from_secs(20));
            if again {
                done_for = Some((step, Instant::now()));
                for line in hands::moves(&sheet) {
                    self.hand(&line).await;
                }
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    }

    /// Reads the cautions and starts the sequence, as on the page.
    async fn arm(&self) {
        self.window.wait_for("cautions", "return document.querySelectorAll('.caution').length === 9", LONG).await;
        for line in 0..9 {
            self.window.click(".caution[aria-pressed='false']").await;
            let marked = format!(
                "return document.querySelectorAll(\".caution[aria-pressed='true']\").length > {line} || document.getElementById('cautions').hidden"
            );
            self.window.wait_for("a line marked", &marked, LONG).await;
        }
        self.window.click("#arm").await;
        let armed = "return document.getElementById('arm').getAttribute('aria-checked') === 'true'";
        self.window.wait_for("armed", armed, LONG).await;
    }

    async fn at(&self, path: &str) {
        let there = format!("return location.pathname === {path:?} && document.readyState === 'complete'");
        self.window.wait_for(path, &there, LONG).await;
    }

    async fn unfold(&self) {
        let all =
            "document.querySelectorAll('button.unfold[aria-expanded=false]').forEach((b) => b.click()); return true";
        self.window.run(all).await;
    }
}

fn cell<'a>(sheet: &'a Sheet, name: &str) -> &'a Cell {
    let name = name.parse().unwrap();
    sheet.cells.iter().find(|cell| cell.cell == name).unwrap()
}

/// The true pitch of a blade with every stick at its neutral, the mean of both sides of the boom: the lean of the model is not
/// in it. `turned` are the half-turns of blade B's link.
fn zero(blade: usize, turned: f64) -> f64 {
    let mut rig = Rig::new(SCENARIO.parse::<Scenario>().unwrap()).unwrap();
    if turned != 0.0 {
        rig.command(&format!("link B {turned}")).unwrap();
    }
    let mut pitch = |station: f64| {
        rig.command(&format!("head {}", station - 180.0 * blade as f64)).unwrap();
        rig.advance(rig.now() + Seconds::new(5.0), &mut Vec::new());
        rig.truth().blades[blade].pitch_deg.degrees()
    };
    f64::midpoint(pitch(90.0), pitch(270.0))
}

fn agrees(sheet: &Sheet, name: &str, truth: f64) {
    let found = cell(sheet, name);
    let (value, u) = (found.value_deg.unwrap(), found.expanded_deg.unwrap());
    println!("{name}: {value:+.3} ± {u:.3}, truth {truth:+.3}");
    assert!((value - truth).abs() <= 1.5 * u, "{name}: {value} ± {u}, truth {truth}");
}

/// Targets of less than 44 pixels; a box has its label around it.
const SMALL: &str = "
return [...document.querySelectorAll('button, a, summary, select, input:not([type=checkbox], [type=radio], .vh)')].filter((e) => {
  const b = e.getBoundingClientRect();
  return b.width && b.height && (b.width < 43.5 || b.height < 43.5) && !e.classList.contains('skip');
}).map((e) => `${e.id || e.textContent} ${e.getBoundingClientRect().width}x${e.getBoundingClientRect().height}`)";

async fn photographed(driver: &Driver, url: &str, name: &str) {
    for (width, height, dark, suffix) in
        [(390, 844, false, "phone"), (390, 844, true, "phone-dark"), (1440, 900, true, "dark")]
    {
        let window = driver.window(width, height).await;
        if dark {
            window.dark().await;
        }
        window.open(url).await;
        tokio::time::sleep(Duration::from_millis(1200)).await;
        window.picture(&format!("{name}-{suffix}")).await;
        let across =
            window.run("return document.documentElement.scrollWidth - document.documentElement.clientWidth").await;
        assert!(across.as_i64().unwrap() <= 0, "{name} is too wide by {across} at {width}");
        if width < 600 {
            assert_eq!(window.run(SMALL).await, Value::Array(Vec::new()), "{name}: smaller than a fingertip");
        }
        window.client.clone().close().await.unwrap();
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_whole_job_is_done_on_the_page_with_no_command_in_between() {
    let driver = Driver::start();
    let bench = Bench::new();
    let mut running = bench.start(&["bench", "--no-open", "--listen", "127.0.0.1:0"]);
    let line = running.wait_for_said("The bench page: ");
    let host = line.split("http://").nth(1).unwrap().trim().split('/').next().unwrap().to_owned();
    let url = |path: &str| format!("http://{host}{path}");
    let window = driver.window(1440, 900).await;

    // The start, with nothing there.
    window.open(&url("/")).await;
    window.wait_for("the start", "return document.querySelectorAll('#more .button').length === 3", LONG).await;
    window.picture("20-start-empty").await;
    photographed(&driver, &url("/"), "20-start-empty").await;
    window.click("#more button").await;
    window.wait_for("the simulated head", "return !document.getElementById('simulated').hidden", LONG).await;
    window.picture("21-start-simulated").await;

    // A helicopter by form: blank fields are asked for, not guessed.
    window.click("#more a[href='/helicopter']").await;
    let mut job = Job { host: host.clone(), window, feed: Feed::none() };
    job.at("/helicopter").await;
    job.window.wait_for("the form", "return document.querySelectorAll('.field').length > 30", LONG).await;
    photographed(&driver, &url("/helicopter"), "22-helicopter").await;
    job.fill("#f-name", "Club trainer").await;
    job.window.click("#keep").await;
    job.window.wait_for("asked for", "return document.querySelectorAll('.field.wrong').length === 6", LONG).await;
    job.window.picture("22-helicopter-asked").await;
    for (field, text) in [
        ("rotation", "clockwise"),
        ("blades", "2"),
        ("link-pitch_arm_mm", "20"),
        ("link-thread", "M2.5"),
        ("link-seats", "half turn"),
        ("link-lengthening", "raises"),
        ("tail-blades", "2"),
    ] {
        job.fill(&format!("#f-{field}"), text).await;
    }
    // Nothing is lost by a reload.
    job.window.run("window.before = true; location.reload(); return true").await;
    job.window
        .wait_for(
            "loaded anew",
            "return window.before === undefined && document.querySelectorAll('.field').length > 30",
            LONG,
        )
        .await;
    assert_eq!(job.window.run("return document.getElementById('f-link-pitch_arm_mm').value").await, "20");
    job.window.click("#keep").await;
    job.window.wait_for("kept", "return !document.getElementById('kept').hidden", LONG).await;
    job.window.picture("23-helicopter-kept").await;
    job.window.click("#begin-setup").await;
    job.window.wait_for("asked", "return document.getElementById('begin').open", LONG).await;
    job.fill("#reason", "new season").await;
    job.window.picture("24-begin").await;
    job.window.click("#begin-now").await;
    job.at("/setup/1").await;

    // Captures, until blade B is outside.
    job.feed = Feed::of(&host);
    job.arm().await;
    let sheet = job
        .play(|sheet| cell(sheet, "blade B zero").value_deg.is_some() && !cell(sheet, "blade B zero").turns.is_empty())
        .await;
    agrees(&sheet, "blade A zero", zero(0, 0.0));
    agrees(&sheet, "blade B zero", zero(1, 0.0));
    let outside = cell(&sheet, "blade B zero").clone();
    assert_eq!(outside.verdict, Verdict::Outside);
    let advised = outside.turns[0].to_string();
    let turned: f64 = advised.trim_start_matches("link B ").split(' ').next().unwrap().parse().unwrap();
    job.unfold().await;
    job.window
        .wait_for(
            "the advice with what to press",
            "return Boolean(document.querySelector(\"[aria-label='I turned it: blade B zero']\"))",
            LONG,
        )
        .await;
    job.window.picture("25-outside").await;
    job.window.click("[aria-label='I turned it: blade B zero']").await;

    // What was turned is stale, and read again: it is inside then.
    let sheet = job.play(|sheet| cell(sheet, "blade B zero").verdict == Verdict::Stale).await;
    assert_ne!(cell(&sheet, "blade A zero").verdict, Verdict::Stale, "the other blade's link was not touched");
    assert_eq!(sheet.step.cell.as_deref(), Some("blade B zero"), "it leads to reading it again: {:#?}", sheet.step);
    job.window.picture("26-turned").await;
    let sheet = job.play(|sheet| cell(sheet, "blade B zero").verdict == Verdict::Inside).await;
    agrees(&sheet, "blade B zero", zero(1, turned));
    job.window.picture("27-inside").await;

    // Something else is turned: only what makes sense is offered, and it says what it makes stale.
    job.window.run("document.body.focus(); return true").await;
    job.window.key("r").await;
    job.window.wait_for("asked what", "return document.getElementById('turned').open", LONG).await;
    job.window.click("#turn-0").await;
    job.window.picture("28-turned-what").await;
    job.window.click("#turned-now").await;
    job.window
        .wait_for("which way", "return [...document.querySelectorAll('#turned .refusal')].some((p) => !p.hidden)", LONG)
        .await;
    job.window.run("document.getElementById('turned').close(); return true").await;
    // Across the room, and back.
    job.window.key("f").await;
    job.window.wait_for("across the room", "return !document.getElementById('room').hidden", LONG).await;
    job.window.picture("29-room").await;
    job.window.key("f").await;
    photographed(&driver, &url("/setup/1"), "29-setup").await;

    // The sheet: its verdict, and on paper two pages at most, with nothing of the screen on it.
    job.window.click("#to-sheet").await;
    job.at("/sheet/1").await;
    assert!(job.window.text("#verdict").await.contains("missing"));
    job.window.picture("30-sheet").await;
    photographed(&driver, &url("/sheet/1"), "30-sheet").await;
    for (path, paper, name) in
        [("/sheet/1", "A4", "A4"), ("/sheet/1?letter=true", "letter", "letter"), ("/sheet/1?card=true", "A4", "card")]
    {
        job.window.open(&url(path)).await;
        let pdf = job.window.devtools("Page.printToPDF", json!({ "preferCSSPageSize": true })).await;
        let bytes = support::browser::decoded(pdf["data"].as_str().unwrap());
        let file = pictures().join(format!("sheet-{name}.pdf"));
        std::fs::write(&file, bytes).unwrap();
        let printed = support::paper::of_pdf(&file);
        assert!(
            printed.pages <= 2 && printed.size.to_lowercase().contains(&paper.to_lowercase()),
            "{name}: {printed:?}"
        );
        assert!(!printed.text.contains("Save as") && !printed.text.contains("Simulated hands"), "{}", printed.text);
        assert_eq!(printed.text.contains("Limit record"), name != "card", "{name}: {}", printed.text);
    }
    // Back and forward, as in any page.
    job.window.client.back().await.unwrap();

    // A second setup, the first closed for it.
    job.window.open(&url("/")).await;
    job.window.wait_for("the open setup", "return Boolean(document.querySelector('.helicopter.open'))", LONG).await;
    job.window.picture("31-start-open").await;
    photographed(&driver, &url("/"), "31-start-open").await;
    let (status, answer) = page::post(&host, "/do", &json!({ "do": "close", "setup": 1 }));
    assert_eq!(status, 200, "{answer}");
    job.window.wait_for("closed", "return !document.querySelector('.helicopter.open') && Boolean(document.querySelector('.helicopter button'))", LONG).await;
    job.window.click(".helicopter button").await;
    job.window.wait_for("asked", "return document.getElementById('begin').open", LONG).await;
    job.window.click("#begin-now").await;
    job.at("/setup/2").await;
    job.feed = Feed::of(&host);
    job.arm().await;
    let both = |sheet: &Sheet| {
        ["blade A zero", "blade B zero"].iter().all(|name| cell(sheet, name).verdict == Verdict::Inside)
    };
    let sheet = job.play(both).await;
    agrees(&sheet, "blade B zero", zero(1, turned));

    // The logbook, and both beside each other.
    job.window.open(&url("/logbook")).await;
    job.window.wait_for("two setups", "return document.querySelectorAll('#rows tr').length === 2", LONG).await;
    for number in [1, 2] {
        job.window.click(&format!("[aria-label='Compare setup {number}']")).await;
    }
    job.window.picture("32-logbook").await;
    photographed(&driver, &url("/logbook"), "32-logbook").await;
    job.window.click("#compare").await;
    job.at("/compare/1/2").await;
    job.window.wait_for("compared", "return document.querySelectorAll('#rows tr').length > 5", LONG).await;
    job.window.picture("33-compare").await;
    photographed(&driver, &url("/compare/1/2"), "33-compare").await;
    let compared = page::get(&host, "/api/compare?first=1&second=2");
    let of = |name: &str| -> Value {
        compared["cells"].as_array().unwrap().iter().find(|cell| cell["cell"] == name).unwrap().clone()
    };
    assert_ne!(of("blade B zero")["change"], "changed", "nothing was turned between them: {:#}", of("blade B zero"));
    job.window.open(&url("/history?head=Club%20trainer")).await;
    job.window.wait_for("charts", "return document.querySelectorAll('#charts img').length > 1", LONG).await;
    tokio::time::sleep(Duration::from_millis(500)).await;
    job.window.picture("34-history").await;
    photographed(&driver, &url("/history?head=Club%20trainer"), "34-history").await;
    photographed(&driver, &url("/sensor"), "35-sensor").await;
    // What was simulated goes with the simulated head; the person's own logbook was never begun.
    assert!(!bench.logbook().exists());
    // A form with blank fields was refused, as it should be; nothing else went wrong.
    let complaints = job.window.complaints(&url("/")).await;
    assert!(complaints.iter().all(|line| line.contains("/do") && line.contains("409 (Conflict)")), "{complaints:?}");
}

/// The sensor is calibrated on the page: the next rest is drawn and told, what is covered is shown, and what comes of it is kept.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_sensor_is_tumbled_on_the_page() {
    let driver = Driver::start();
    let bench = Bench::new();
    let mut running = bench.start(&["bench", "--no-open", "--listen", "127.0.0.1:0"]);
    let line = running.wait_for_said("The bench page: ");
    let host = line.split("http://").nth(1).unwrap().trim().split('/').next().unwrap().to_owned();
    let (status, answer) = page::post(&host, "/do", &json!({ "do": "simulate" }));
    assert_eq!(status, 200, "{answer}");
    let window = driver.window(1440, 900).await;
    window.open(&format!("http://{host}/sensor")).await;
    window.click("#begin-tumble").await;
    let mut have = None;
    let deadline = Instant::now() + WITHIN;
    let told = loop {
        let state = page::get(&host, "/api/tumble");
        if state["running"] == false {
            break state;
        }
        assert!(Instant::now() < deadline, "{state:#}");
        let rested = state["rests"].as_array().unwrap().len();
        // The sensor is turned once for each rest, and then left alone.
        if have != Some(rested) {
            have = Some(rested);
            let next: Vec<f64> = state["next"].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect();
            let (roll, pitch) = (next[1].asin().to_degrees(), (-next[0]).atan2(next[2]).to_degrees());
            let (status, answer) =
                page::post(&host, "/rig", &json!({ "line": format!("clip pose {roll:.1} {pitch:.1} over 0.3") }));
            assert_eq!(status, 204, "{answer}");
        }
        if rested == 5 {
            window.picture("36-tumble").await;
        }
        tokio::time::sleep(Duration::from_millis(300)).await;
    };
    assert_eq!(told["kept"], true, "{told:#}");
    assert!(told["share"].as_f64().unwrap() > 0.9, "{told:#}");
    window
        .wait_for("said", "return document.getElementById('tumble-said').textContent.startsWith('Calibrated')", LONG)
        .await;
    window.picture("37-tumbled").await;
    window.click("#leave-tumble").await;
    window.wait_for("left", "return Boolean(document.getElementById('begin-tumble'))", LONG).await;
    let complaints = window.complaints(&format!("http://{host}/")).await;
    assert_eq!(complaints, Vec::<String>::new());
}
