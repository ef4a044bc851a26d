//! The whole job hands-free: the sheet says what to do, a simulated person does it with the simulated head, and what is
//! recorded is held against the truth.

use clinoblade::bench::conductor::{Change, Cue, OrderState, Refusal, Sheet, Trouble, Verdict};
use clinoblade::guide::{self, Act, Hint, Instruction, Mark, Phase, Question, Spoken, SweepMove};
use clinoblade::logbook::LogbookError;
use clinoblade::record::trade::Caution;
use clinoblade::record::{Capture, Event, Head, Seat};
use clinoblade::rotor::{BladeName, Carrier, Deflection, Spot, Station};
use std::path::PathBuf;
use support::conductor::{Bench, as_told, asks, is_done};
use tokio::sync::broadcast::error::TryRecvError;

/// A good head but for what is said of it.
fn scenario(more: &str) -> String {
    format!(
        "seed = 4
head = {{ cyclic_deg = 9.0, pitch_arm_mm = 20.0, station_deg = 90.0 }}
blades = {{ link_error_deg = [0.2, -0.25], droop_deg = [-1.0, -1.2] }}
servos = {{ arm_offset_deg = [1.5, 0.0, -1.0], bind_buzz_deg = 0.15, buzz_hz = 31.0 }}
tail = {{ travel_deg = 28.0, neutral_deg = 4.0 }}
sensor = {{ noise_density_ug_rthz = 150.0 }}
clip = {{ cable_pull_deg = 0.04 }}
{more}"
    )
}

fn head() -> Head {
    let text = Head::template("Workshop trainer");
    let text = text
        .replace("# positive = \"right\"", "positive = \"right\"")
        .replace("pitch_arm_mm = 12.0", "pitch_arm_mm = 20.0");
    Head::from_toml(&text).unwrap()
}

fn cell<'a>(sheet: &'a Sheet, name: &str) -> &'a clinoblade::bench::conductor::Cell {
    let name = name.parse().unwrap();
    sheet.cells.iter().find(|cell| cell.cell == name).unwrap()
}

fn value(sheet: &Sheet, name: &str) -> (f64, f64, Verdict) {
    let cell = cell(sheet, name);
    (cell.value_deg.unwrap(), cell.expanded_deg.unwrap(), cell.verdict)
}

/// The question that stands on the sheet.
fn asked(sheet: &Sheet) -> Question {
    match sheet.step.instruction {
        Instruction::Answer { question } => question,
        other => panic!("{other:?}"),
    }
}

/// Why an act is not done now.
async fn refused(bench: &Bench, act: Act) -> guide::Refusal {
    match bench.conductor.act(act).await.unwrap_err() {
        Refusal::Guide(refusal) => refusal,
        other => panic!("{other:?}"),
    }
}

fn way(deflection: &str) -> Deflection {
    deflection.parse().unwrap()
}

/// Lets a stick that is at its end go back; how far blade A truly moves with it.
async fn let_go(bench: &Bench, stick: &str) -> f64 {
    let pitch = async || bench.head.truth().await.blades[0].pitch_deg.degrees();
    bench.head.tell("wait 1").await;
    let at_end = pitch().await;
    bench.head.tell(&format!("stick {stick} 0")).await;
    bench.head.tell("wait 3").await;
    (at_end - pitch().await).abs()
}

fn remarks(sheet: &Sheet, name: &str) -> Vec<String> {
    cell(sheet, name).remarks.clone()
}

#[tokio::test]
async fn the_whole_job_goes_by_itself_from_the_first_caution_to_the_finished_sheet() {
    let bench = Bench::new(&scenario(""), head()).await;
    assert_eq!(bench.sheet().step.phase, Phase::Cautions);
    assert_eq!(refused(&bench, Act::Arm).await, guide::Refusal::CautionsFirst);
    bench.arm().await;
    let sheet = bench.play(as_told, is_done).await;
    assert!(sheet.complete, "{:#?}", sheet.cells);
    // The cable that hangs adds 0.04° to the pitch.
    let (pull, u, verdict) = value(&sheet, "cable");
    assert!((pull - 0.04).abs() <= u && verdict == Verdict::Inside, "{pull} ± {u}: {verdict:?}");
    for name in ["elevator up", "elevator down", "aileron left", "aileron right", "rudder left", "rudder right"] {
        let once_more =
            remarks(&sheet, name).into_iter().find(|remark| remark.starts_with(&format!("{name} reaches ")));
        let once_more =
            once_more.unwrap_or_else(|| panic!("{name} was not moved once more: {:?}", remarks(&sheet, name)));
        assert!(once_more.contains(" of ") && !once_more.contains("only"), "{once_more}");
    }
    // What a person would expect: read off the simulated head with nothing between.
    for (name, stick, blade_at) in [
        ("elevator up", "elevator 100", Some(90.0)),
        ("elevator down", "elevator -100", Some(90.0)),
        ("aileron left", "aileron -100", Some(0.0)),
        ("aileron right", "aileron 100", Some(0.0)),
        ("rudder left", "rudder -100", None),
        ("rudder right", "rudder 100", None),
    ] {
        for centre in ["elevator 0", "aileron 0", "rudder 0", "collective 50"] {
            bench.head.tell(&format!("stick {centre}")).await;
        }
        if let Some(station) = blade_at {
            bench.head.tell(&format!("head {station}")).await;
        }
        bench.head.tell("wait 3").await;
        let pitch = |truth: clinoblade::rig::Truth| match blade_at {
            Some(_) => truth.blades[0].pitch_deg.degrees(),
            None => truth.tail[0].pitch_deg.degrees(),
        };
        let neutral = pitch(bench.head.truth().await);
        bench.head.tell(&format!("stick {stick}")).await;
        bench.head.tell("wait 3").await;
        let end = pitch(bench.head.truth().await);
        // A tail end is shown as the pitch at which the blade stands.
        let truth = if blade_at.is_some() { (end - neutral).abs() } else { end.abs() };
        let (shown, u, verdict) = value(&sheet, name);
        println!("{name}: {shown:.2} ± {u:.2}, truth {truth:.2}: {verdict:?}");
        assert!((shown - truth).abs() <= u, "{name}: {shown} ± {u}, truth {truth}");
    }
    let acknowledged = bench.logbook.setup(1).await.unwrap().cautions_acknowledged_at;
    assert!(acknowledged.is_some(), "that the cautions were read is in the record");
    bench.act(Act::Finish).await;
    assert!(bench.sheet().finished);
}

/// The head stays where it was, although it was to be turned for the aileron: it ends in a question and no wrong cell.
#[tokio::test]
async fn a_head_that_is_never_turned_ends_in_a_question_and_in_no_wrong_cell() {
    let bench = Bench::new(&scenario(""), head()).await;
    bench.arm().await;
    let stubborn = |sheet: &Sheet| {
        let turns = sheet.step.phase == Phase::Place && sheet.plan.station_deg == Some(0.0);
        // Hands on the head that do not turn it.
        turns.then(|| vec!["tilt 0.6 0 over 0.3".to_owned(), "wait 0.3".to_owned(), "tilt 0 0 over 0.3".to_owned()])
    };
    let sheet = bench.play(stubborn, asks).await;
    println!("{} {:?}", sheet.step.sentence, sheet.step.why);
    let Question::NoAnswer { way: stick, spot: Spot::Main(station) } = asked(&sheet) else {
        panic!("{:#?}", sheet.step)
    };
    assert_eq!((stick, f64::from(station)), (way("aileron right"), 0.0));
    for end in ["aileron left", "aileron right"] {
        assert_eq!(cell(&sheet, end).value_deg, None);
    }
    // Turned after all, it goes on.
    bench.act(Act::Answer { choice: 0 }).await;
    let sheet = bench.play(as_told, |sheet| sheet.step.cell.as_deref() == Some("aileron right")).await;
    assert!(value(&sheet, "aileron left").0 > 5.0);
}

/// Whether it is asked about this stick having raised or lowered this blade.
fn contradicts(sheet: &Sheet, stick: &str, up: bool, blade: &str) -> bool {
    matches!(asked(sheet), Question::Contradicted { way: moved, raised, at, .. }
        if moved == way(stick) && raised == up && at.blade.to_string() == blade)
}

#[tokio::test]
async fn a_clip_that_sits_end_for_end_is_found_out_before_anything_is_captured() {
    let bench = Bench::new(&scenario(""), head()).await;
    bench.arm().await;
    let reversed = |sheet: &Sheet| {
        (sheet.step.phase == Phase::Place)
            .then(|| vec!["clip A reversed over 0.8".to_owned(), "head 90 over 0.8".to_owned()])
    };
    let sheet = bench.play(reversed, asks).await;
    assert!(contradicts(&sheet, "collective high", false, "A"), "{:#?}", sheet.step);
    assert!(sheet.cells.iter().all(|cell| cell.value_deg.is_none()));
}

/// The head is half a turn off: the other blade's station. Elevator up then moves the blade the other way.
#[tokio::test]
async fn a_clip_left_on_the_other_blade_is_found_out_by_the_check_stick() {
    let bench = Bench::new(&scenario(""), head()).await;
    bench.arm().await;
    let wrong = |sheet: &Sheet| {
        // Blade A was asked for: the head is turned for it, but the clip goes on B.
        (sheet.step.phase == Phase::Place)
            .then(|| vec!["clip B forward over 0.8".to_owned(), "head 90 over 0.8".to_owned()])
    };
    let sheet = bench.play(wrong, asks).await;
    assert!(contradicts(&sheet, "elevator up", false, "A"), "{:#?}", sheet.step);
    assert!(sheet.cells.iter().all(|cell| cell.value_deg.is_none()));
}

/// Full stick still goes into the bind, and the sweep finds it: the end is in question until its end point is lowered and it is
/// captured again.
#[tokio::test]
async fn a_bind_that_the_sweep_meets_again_is_put_right_by_the_end_point() {
    let bench = Bench::new(&scenario("[[bind]]\nat = \"elevator down\"\ntravel_deg = 8.0"), head()).await;
    bench.arm().await;
    let sheet = bench.play(as_told, is_done).await;
    let down = cell(&sheet, "elevator down");
    assert_eq!((down.verdict, sheet.complete), (Verdict::InQuestion, false));
    assert!(sheet.step.sentence.contains("the stick goes past a bind"), "{}", sheet.step.sentence);
    assert!(down.consequence.contains("Lower its end point"), "{}", down.consequence);
    let others = |verdict| sheet.cells.iter().filter(|cell| cell.verdict == verdict).count();
    assert_eq!((others(Verdict::InQuestion), others(Verdict::Missing)), (1, 0));
    bench.head.tell("endpoint elevator down 80").await;
    bench.act(Act::Redo { cell: "elevator down".parse().unwrap() }).await;
    let sheet = bench.play(as_told, is_done).await;
    assert_eq!((cell(&sheet, "elevator down").verdict, sheet.complete), (Verdict::Bound, true));
}

#[tokio::test]
async fn a_bind_is_backed_off_and_captured_just_short_of_it() {
    let bench = Bench::new(&scenario("[[bind]]\nat = \"elevator down\"\ntravel_deg = 8.0"), head()).await;
    bench.arm().await;
    let until = |sheet: &Sheet| cell(sheet, "elevator down").verdict == Verdict::Bound;
    // How long the servo pushes against the stop, in the head's own time.
    let head = bench.head.clone();
    let held = tokio::spawn(async move {
        let (mut longest, mut since) = (0.0_f64, None);
        loop {
            let truth = head.truth().await;
            let now = truth.now_s.value();
            match (truth.binding.is_empty(), since) {
                (true, Some(from)) => {
                    longest = longest.max(now - from);
                    return longest;
                }
                (false, None) => since = Some(now),
                _ => {}
            }
            tokio::time::sleep(std::time::Duration::from_millis(10)).await;
        }
    });
    let mut cues = bench.conductor.cues();
    let sheet = bench.play(as_told, until).await;
    let held = held.await.unwrap();
    println!("held against the bind for {held:.2} s");
    assert!(held < 2.0, "{held} s");
    let mut told_to_let_go = false;
    loop {
        match cues.try_recv() {
            Ok(cue) => told_to_let_go |= matches!(cue, Cue::Mark { mark: Mark::LetGo, .. }),
            // Old tones: the mark was among the last.
            Err(TryRecvError::Lagged(_)) => {}
            Err(_) => break,
        }
    }
    assert!(told_to_let_go);
    let (travel, u, _) = value(&sheet, "elevator down");
    println!("bound at {travel:.2} ± {u:.2}");
    assert!((6.0..8.0).contains(&travel), "{travel}");
    // Nobody has said where the stick stands: what is asked for is the angle, and no output is made of it.
    let bound = cell(&sheet, "elevator down");
    assert!(bound.consequence.contains(&format!("until it stops at +{travel:.2}° or before")), "{}", bound.consequence);
}

#[tokio::test]
async fn the_other_direction_is_asked_about_and_taken_as_what_it_was() {
    let bench = Bench::new(&scenario(""), head()).await;
    bench.arm().await;
    let wrong_way = |sheet: &Sheet| {
        (sheet.step.phase == Phase::Move && sheet.step.cell.as_deref() == Some("elevator up"))
            .then(|| vec!["stick elevator -100 over 0.8".to_owned()])
    };
    let sheet = bench.play(wrong_way, asks).await;
    let Question::OtherWay { way: stick, instead: Some((_, other)) } = asked(&sheet) else {
        panic!("{:#?}", sheet.step)
    };
    assert_eq!((stick, other), (way("elevator up"), way("elevator down")));
    for end in ["elevator up", "elevator down"] {
        assert_eq!(cell(&sheet, end).value_deg, None);
    }
    bench.act(Act::Answer { choice: 0 }).await;
    let sheet = bench.play(as_told, |sheet| sheet.step.phase == Phase::Return).await;
    assert!(value(&sheet, "elevator down").0 > 5.0);
    // Elevator up is still to come.
    let sheet = bench.play(as_told, |sheet| cell_is_filled(sheet, "elevator up")).await;
    assert!(value(&sheet, "elevator up").0 > 5.0);
}

#[tokio::test]
async fn a_line_is_skipped_moved_redone_and_the_last_one_taken_back() {
    let bench = Bench::new(&scenario(""), head()).await;
    bench.arm().await;
    let label = |sheet: &Sheet| sheet.step.cell.clone().unwrap_or_default();
    for blade in ["A", "A", "B"] {
        assert_eq!(label(&bench.sheet()), format!("blade {blade} zero"));
        if blade == "A" {
            bench.act(Act::Skip).await;
        }
    }
    let ids: Vec<u32> = bench.sheet().order.iter().map(|line| line.id).collect();
    // Elevator down before elevator up.
    bench.act(Act::MoveOrder { id: ids[6], before: Some(ids[5]) }).await;
    let labels: Vec<String> = bench.sheet().order.iter().map(|line| line.label.clone()).collect();
    assert_eq!(labels[4..7], ["cable", "elevator down", "elevator up"]);
    let sheet = bench.play(as_told, |sheet| sheet.step.phase == Phase::Move).await;
    assert_eq!(label(&sheet), "elevator down");
    bench.act(Act::Undo).await;
    assert_eq!(label(&bench.sheet()), "blade B zero");
    let sheet = bench.play(as_told, |sheet| sheet.step.phase == Phase::Move).await;
    let zero = cell(&sheet, "blade B zero");
    // The clip had left the blade: both halves were read again on one seat, and the first half stays to be seen.
    let taken_back: Vec<bool> = zero.history.iter().map(|earlier| earlier.withdrawn).collect();
    assert_eq!(taken_back, [false, true], "what was taken back is kept: {zero:#?}");
    // The clip is on blade A already, where its zero is read.
    bench.act(Act::Redo { cell: "blade A zero".parse().unwrap() }).await;
    assert_eq!((label(&bench.sheet()), bench.sheet().step.phase), ("blade A zero".into(), Phase::Neutral));
    let track = "track B - A".parse().unwrap();
    assert_eq!(refused(&bench, Act::Redo { cell: track }).await, guide::Refusal::Follows { cell: track });
}

/// Full, back and full again, without letting go of the stick: the last one was wrong, and is captured once more.
#[tokio::test]
async fn full_back_full_takes_the_last_one_back() {
    let bench = Bench::new(&scenario(""), head()).await;
    bench.arm().await;
    let mut done = false;
    let gesture = |sheet: &Sheet| {
        let first = sheet.step.phase == Phase::Return && sheet.step.cell.as_deref() == Some("elevator up") && !done;
        first.then(|| {
            done = true;
            ["stick elevator 0 over 0.3", "wait 0.5", "stick elevator 100 over 0.3"].map(str::to_owned).to_vec()
        })
    };
    let history = |sheet: &Sheet| cell(sheet, "elevator up").history.len();
    let again = |sheet: &Sheet| history(sheet) == 1 && value_of(sheet, "elevator up").is_some();
    let sheet = bench.play(gesture, again).await;
    let cell = cell(&sheet, "elevator up");
    assert!(cell.history[0].withdrawn, "the first one counts no longer");
    let (shown, u, _) = value(&sheet, "elevator up");
    let truth = let_go(&bench, "elevator").await;
    assert!((shown - truth).abs() <= u && truth > 5.0, "{shown} ± {u}, truth {truth}");
}

/// A controller that stabilises goes on moving the blade while the stick is held: that is named on the page and by voice.
#[tokio::test]
async fn creep_that_goes_on_while_the_stick_is_held_is_named() {
    let creeping = scenario("").replace("servos = {", "servos = { creep_percent = 25.0, creep_time_s = 4.0,");
    let bench = Bench::new(&creeping, head()).await;
    let mut cues = bench.conductor.cues();
    bench.arm().await;
    let sheet = bench.play(as_told, |sheet| sheet.step.hint == Some(Hint::Creeps)).await;
    assert_eq!(sheet.step.phase, Phase::Approaching);
    let mut said = Vec::new();
    loop {
        match cues.try_recv() {
            Ok(cue) => said.push(cue),
            // The oldest were overtaken by tones; what was said last is still there.
            Err(TryRecvError::Lagged(_)) => {}
            Err(_) => break,
        }
    }
    assert!(said.iter().any(|cue| matches!(cue, Cue::Say { of: Some(Spoken::Creeps), .. })), "{said:#?}");
}

/// An end point that was lost after the captures: the axis does not go that way any more, and the last look finds it.
#[tokio::test]
async fn a_direction_that_has_lost_its_end_is_found_when_everything_is_moved_once_more() {
    let bench = Bench::new(&scenario(""), head()).await;
    bench.arm().await;
    for _ in 0..3 {
        bench.act(Act::Skip).await;
    }
    let last_look = Instruction::Sweep { to: SweepMove::To(way("aileron left")) };
    let at_the_last_look = |sheet: &Sheet| sheet.step.instruction == last_look;
    bench.play(as_told, at_the_last_look).await;
    bench.head.tell("endpoint aileron right 0").await;
    let sheet = bench.play(as_told, asks).await;
    assert_eq!(asked(&sheet), Question::NotReached { way: way("aileron right") });
    bench.act(Act::Answer { choice: 1 }).await;
    let sheet = bench.sheet();
    let found = remarks(&sheet, "aileron right").join(" ");
    assert!(found.contains("aileron right does not move. Is its end point set"), "{found}");
    assert!(remarks(&sheet, "aileron left").join(" ").contains("aileron left reaches"));
    // What was captured stays; the elevator goes on.
    assert!(value(&sheet, "aileron right").0 > 5.0);
    assert_eq!(sheet.step.phase, Phase::Place);
}

/// The cable was pulled, and clip and head were moved meanwhile: nothing that was known before holds any more, so that the place
/// begins again and the end that was waited for stays without a value.
#[tokio::test]
async fn a_cable_that_is_pulled_begins_the_place_again_and_fills_no_cell() {
    let bench = Bench::new(&scenario(""), head()).await;
    bench.arm().await;
    let at_down =
        |sheet: &Sheet| sheet.step.phase == Phase::Move && sheet.step.cell.as_deref() == Some("elevator down");
    bench.play(as_told, at_down).await;
    for line in ["unplug", "clip B forward over 0.8", "head 270 over 0.8"] {
        bench.head.tell(line).await;
    }
    let nothing = |_: &Sheet| Some(Vec::new());
    let sheet = bench.play(nothing, |sheet| sheet.step.phase == Phase::Place).await;
    assert_eq!(value_of(&sheet, "elevator down"), None);
}

/// A stick that rests half-way up is no end: where it goes on, what was captured there is taken back by itself.
#[tokio::test]
async fn a_rest_on_the_way_up_is_taken_back_when_the_stick_goes_on() {
    let bench = Bench::new(&scenario(""), head()).await;
    bench.arm().await;
    let mut rests = 0;
    let half_way = |sheet: &Sheet| match (sheet.step.phase, sheet.step.cell.as_deref()) {
        (Phase::Move, Some("elevator up")) if rests == 0 => {
            rests += 1;
            Some(vec!["stick elevator 40 over 0.6".to_owned()])
        }
        (Phase::Return, Some("elevator up")) if value_of(sheet, "elevator up").is_some_and(|v| v < 5.0) => {
            Some(vec!["stick elevator 100 over 0.6".to_owned()])
        }
        _ => None,
    };
    let sheet = bench.play(half_way, |sheet| value_of(sheet, "elevator up").is_some_and(|v| v > 8.0)).await;
    let cell = cell(&sheet, "elevator up");
    assert_eq!(cell.history.len(), 1, "{cell:#?}");
    assert!(cell.history[0].withdrawn);
}

fn value_of(sheet: &Sheet, name: &str) -> Option<f64> {
    cell(sheet, name).value_deg
}

/// The nose is knocked while a stick is waited for: square to the boom that looks like a stick. The blade does not come
/// back, which is asked about, and the capture is taken back with the answer.
#[tokio::test]
async fn a_knock_that_looks_like_a_stick_is_asked_about_and_taken_back() {
    let bench = Bench::new(&scenario(""), head()).await;
    bench.arm().await;
    let knocked = |sheet: &Sheet| match (sheet.step.phase, sheet.step.cell.as_deref()) {
        (Phase::Move, Some("elevator up")) => Some(vec!["tilt -4 0 over 0.3".to_owned()]),
        _ => None,
    };
    let sheet = bench.play(knocked, asks).await;
    assert!(matches!(asked(&sheet), Question::NotBack { .. }), "{:#?}", sheet.step);
    bench.act(Act::Answer { choice: 0 }).await;
    let sheet = bench.sheet();
    assert_eq!((sheet.step.phase, value_of(&sheet, "elevator up")), (Phase::Place, None));
}

/// How every line of the order stands whose label ends so.
fn states(sheet: &Sheet, of: impl Fn(&str) -> bool) -> Vec<OrderState> {
    sheet.order.iter().filter(|line| of(&line.label)).map(|line| line.state).collect()
}

/// Closed in the middle and opened anew: of the tail, both leading edges, only what the record does not hold is asked for.
#[tokio::test]
async fn what_the_record_holds_of_the_tail_is_not_asked_for_again() {
    use OrderState::{Captured, Later, Now};
    let bench = Bench::new(&scenario(""), head()).await;
    bench.arm().await;
    let first = bench.sheet().order.iter().find(|line| line.label == "rudder neutral").unwrap().id;
    bench.act(Act::GoTo { id: first }).await;
    let edge_up = |label: &str| ["rudder neutral", "rudder left", "rudder right"].contains(&label);
    let edge_down = |label: &str| label.starts_with("rudder") && label.ends_with("leading edge down");
    let half = |sheet: &Sheet| states(sheet, edge_down)[0] == Now;
    bench.play(as_told, half).await;
    let anew = bench.opened_anew().await;
    assert_eq!(states(&anew, edge_up), [Captured; 3]);
    assert_eq!(states(&anew, edge_down), [Later; 3], "the other edge is still missing");

    bench.play(as_told, |sheet| sheet.step.phase == Phase::OnceMore).await;
    let anew = bench.opened_anew().await;
    assert_eq!((states(&anew, edge_up), states(&anew, edge_down)), (vec![Captured; 3], vec![Captured; 3]));
    assert_eq!(states(&anew, |label| label == "rudder once more"), [Later]);
    // One of them taken back, it is asked for again, and nothing else is.
    bench.act(Act::Undo).await;
    let anew = bench.opened_anew().await;
    assert_eq!(
        (states(&anew, edge_up), states(&anew, edge_down)),
        (vec![Captured; 3], vec![Captured, Captured, Later])
    );
}

/// Five blades: a neighbour stands 72° further, where elevator up still raises it. The other axis tells.
#[tokio::test]
async fn with_five_blades_the_neighbour_is_told_from_the_blade_that_was_asked_for() {
    let five =
        Head::from_toml(&Head::template("Five").replace("blades = 2\n\n# Phase", "blades = 5\n\n# Phase")).unwrap();
    let rig = "seed = 4\nhead = { blades = 5, cyclic_deg = 12.0, pitch_arm_mm = 12.0, station_deg = 90.0 }\nblades = { link_error_deg = [0.0, 0.3, 0.6, 0.0, 1.4], droop_deg = [-1.0, -1.0, -1.0, -1.0, -1.0] }\nsensor = { noise_density_ug_rthz = 150.0 }";
    let bench = Bench::new(rig, five).await;
    bench.arm().await;
    // Asked for E; the head stands right for E, and the clip goes on D.
    let wrong = |sheet: &Sheet| {
        (sheet.step.phase == Phase::Place)
            .then(|| vec!["clip D forward over 0.8".to_owned(), "head 162 over 0.8".to_owned()])
    };
    let sheet = bench.play(wrong, asks).await;
    let about =
        |question| matches!(question, Question::Contradicted { way: moved, .. } if moved == way("aileron right"));
    assert!(about(asked(&sheet)), "{:#?}", sheet.step);
    assert!(sheet.cells.iter().all(|cell| cell.value_deg.is_none()));
    // Put right, it goes on.
    bench.act(Act::Answer { choice: 0 }).await;
    let sheet = bench.play(as_told, |sheet| value_of(sheet, "blade E zero").is_some()).await;
    assert!((value_of(&sheet, "blade E zero").unwrap() - 1.4).abs() < 0.2);
}

/// What is said by key counts for a stick that is held, and for nothing later.
#[tokio::test]
async fn take_it_now_and_it_binds_are_refused_while_nothing_is_held_and_nothing_follows_the_end() {
    let bench = Bench::new(&scenario(""), head()).await;
    let refused = async |act: Act| refused(&bench, act).await;
    assert_eq!(refused(Act::Finish).await, guide::Refusal::CautionsFirst);
    bench.arm().await;
    bench.play(as_told, |sheet| sheet.step.phase == Phase::Move).await;
    bench.head.tell("stick elevator 0").await;
    assert_eq!(refused(Act::Confirm).await, guide::Refusal::MoveFirst);
    assert_eq!(refused(Act::Bound).await, guide::Refusal::NothingHeld);
    assert_eq!(refused(Act::MoveOrder { id: 1, before: Some(99) }).await, guide::Refusal::NoSuchLine);
    bench.act(Act::Skip).await;
    bench.act(Act::Finish).await;
    assert!(bench.sheet().finished);
    for act in [Act::Finish, Act::Undo, Act::Skip, Act::Arm] {
        assert_eq!(refused(act).await, guide::Refusal::Closed);
    }
    let kept = bench.logbook.setup_with_entries(1).await.unwrap();
    let skipped = |entry: &&clinoblade::record::Entry| matches!(&entry.event, clinoblade::record::Event::Skipped { cell, .. } if cell.to_string() == "elevator up");
    assert_eq!(kept.entries.iter().filter(skipped).count(), 1, "what was left out is in the record");
}

/// Value, truth and U of a cell: one truth in twenty lies outside ±U, one in three hundred outside ±1.5 U.
fn agrees(sheet: &Sheet, name: &str, truth: f64) {
    let (read, u, _) = value(sheet, name);
    assert!((read - truth).abs() <= 1.5 * u, "{name}: {read} ± {u}, but truly {truth}");
}

#[tokio::test]
async fn with_a_sensor_on_each_blade_no_clip_is_moved() {
    let bench = Bench::with_sensors(&scenario(""), head(), &["B", "A", "tail"]).await;
    bench.arm().await;
    let said = std::sync::Mutex::new(Vec::new());
    let heard = |sheet: &Sheet| {
        said.lock().unwrap().push(sheet.step.instruction);
        is_done(sheet)
    };
    let sheet = bench.play(as_told, heard).await;
    assert!(sheet.complete, "{:#?}", sheet.cells);
    let said = said.into_inner().unwrap();
    assert!(said.iter().all(|step| !matches!(step, Instruction::Clip { .. })), "{said:#?}");
    let square = Seat { blade: BladeName::A, spot: Spot::Main(Station::from_degrees(90.0).unwrap()) };
    assert!(said.contains(&Instruction::Turn { to: square, own_sensor: true }), "{said:#?}");
    let lines: Vec<(&str, bool)> = sheet.sensors.iter().map(|line| (line.carrier.as_str(), line.up)).collect();
    assert_eq!(lines, [("B", true), ("A", true), ("tail", true)]);

    // Both blades as the simulated head has them, each at the same place.
    for centre in ["elevator 0", "aileron 0", "rudder 0", "collective 50"] {
        bench.head.tell(&format!("stick {centre}")).await;
    }
    let mut zeros = Vec::new();
    for turn in ["head 90", "head 270"] {
        bench.head.tell(turn).await;
        bench.head.tell("wait 3").await;
        zeros.push(bench.head.truth().await.blades[zeros.len()].pitch_deg.degrees());
    }
    agrees(&sheet, "blade A zero", zeros[0]);
    agrees(&sheet, "blade B zero", zeros[1]);
    agrees(&sheet, "track B - A", zeros[1] - zeros[0]);

    // The record knows which sensor gave which value, and that each sat where it sat.
    let kept = bench.logbook.setup_with_entries(sheet.setup.number).await.unwrap();
    let captures: Vec<&Capture> = kept
        .entries
        .iter()
        .filter_map(|entry| match &entry.event {
            Event::Capture(capture) => Some(capture.as_ref()),
            _ => None,
        })
        .collect();
    assert!(captures.len() >= 14, "{}", captures.len());
    let mut seats = std::collections::BTreeMap::new();
    for capture in captures {
        let (carrier, subject) = (capture.sensor.carrier.unwrap(), capture.subject);
        assert_eq!(carrier, Carrier::of(subject.blade(), subject.spot()), "{subject}");
        assert_eq!(capture.sensor.port, format!("sensor {carrier}"));
        assert_eq!(*seats.entry(carrier).or_insert(capture.seat), capture.seat, "{subject}: it never came off");
    }
    assert_eq!(seats.len(), 3);
}

#[tokio::test]
async fn what_no_sensor_can_read_is_left_out_and_said() {
    let bench = Bench::with_sensors(&scenario(""), head(), &["A", "B"]).await;
    bench.arm().await;
    let sheet = bench.sheet();
    let tail = sheet.order.iter().find(|line| line.label == "rudder left").unwrap();
    assert_eq!(tail.state, OrderState::Skipped);
    let refused = refused(&bench, Act::GoTo { id: tail.id }).await;
    assert_eq!(refused, guide::Refusal::NoSensor { carrier: Carrier::Tail });
}

#[tokio::test]
async fn sensors_that_are_exchanged_are_asked_about() {
    // The one that is called B sits on A, and the other way round.
    let bench = Bench::with_sensors(&scenario(""), head(), &["A", "B"]).await;
    for line in ["clip B forward"] {
        bench.head.tell(line).await;
    }
    bench.arm().await;
    let sheet = bench.play(as_told, |sheet| asks(sheet) || cell_is_filled(sheet, "blade A zero")).await;
    assert!(asks(&sheet), "{:#?}", sheet.step);
    assert!(matches!(asked(&sheet), Question::Contradicted { own_sensors: true, .. }), "{:#?}", sheet.step);
}

fn cell_is_filled(sheet: &Sheet, name: &str) -> bool {
    cell(sheet, name).value_deg.is_some()
}

/// A cell that is outside has what to turn beside it, in the words of `advise`.
#[tokio::test]
async fn a_cell_that_is_outside_says_on_the_sheet_what_to_turn() {
    let long_link = scenario("").replace("link_error_deg = [0.2, -0.25]", "link_error_deg = [0.2, -1.6]");
    let bench = Bench::new(&long_link, head()).await;
    bench.arm().await;
    // Each blade on both sides: one alone has the lean of the model in it.
    let judged = |sheet: &Sheet| value(sheet, "blade B zero").2 == Verdict::Outside;
    let sheet = bench.play(as_told, |sheet| cell_is_filled(sheet, "blade B zero") && judged(sheet)).await;
    let advice = |name: &str| cell(&sheet, name).advice.clone();
    assert_eq!(value(&sheet, "blade B zero").2, Verdict::Outside);
    let told = advice("blade B zero").unwrap();
    assert!(told.starts_with("Turn the link of blade B ") && told.contains("half-turn"), "{told}");
    assert_eq!((value(&sheet, "blade A zero").2, advice("blade A zero")), (Verdict::Inside, None));
}

/// What was turned is recorded as it was advised; what it moved is stale, is led to next, and is right when it is read again.
#[tokio::test]
async fn what_was_turned_is_read_again() {
    let long_link = scenario("").replace("link_error_deg = [0.2, -0.25]", "link_error_deg = [0.2, -1.6]");
    let bench = Bench::new(&long_link, head()).await;
    bench.arm().await;
    let judged = |sheet: &Sheet| !cell(sheet, "blade B zero").turns.is_empty();
    let sheet = bench.play(as_told, judged).await;
    let what = cell(&sheet, "blade B zero").turns.clone();
    assert_eq!(cell(&sheet, "blade A zero").turns, [], "nothing is to be turned where all is right");
    let turned = what[0].to_string();
    let half_turns = turned.strip_prefix("link B ").unwrap().split(' ').next().unwrap().to_owned();
    // A blade that the head has not cannot have been adjusted, and nothing is recorded then.
    let unknown = vec![what[0], "link C +1".parse().unwrap()];
    let refused = bench.conductor.change(Change::Turned { what: unknown, note: None }).await.unwrap_err();
    assert!(matches!(refused, Refusal::Deed(_)), "{refused:?}");
    assert_eq!(value(&bench.sheet(), "blade B zero").2, Verdict::Outside);

    bench.head.tell(&format!("link B {half_turns}")).await;
    bench.conductor.change(Change::Turned { what, note: None }).await.unwrap();
    let sheet = bench.sheet();
    assert_eq!(cell(&sheet, "blade B zero").verdict, Verdict::Stale, "{:#?}", cell(&sheet, "blade B zero"));
    assert_eq!((value(&sheet, "blade A zero").2, sheet.step.cell.as_deref()), (Verdict::Inside, Some("blade B zero")));
    let sheet = bench.play(as_told, |sheet| cell(sheet, "blade B zero").verdict != Verdict::Stale).await;
    assert!(value(&sheet, "blade B zero").0.abs() < 0.5, "{:#?}", cell(&sheet, "blade B zero"));
}

/// A cell that is left out with a reason is waited for no longer, and the sheet says why.
#[tokio::test]
async fn a_cell_that_is_left_out_is_not_asked_for() {
    let bench = Bench::new(&scenario(""), head()).await;
    bench.arm().await;
    let left_out =
        |because: &str| Change::LeaveOut { cell: "rudder right".parse().unwrap(), because: because.to_owned() };
    assert!(matches!(bench.conductor.change(left_out(" ")).await, Err(Refusal::Deed(_))), "a reason is wanted");
    bench.conductor.change(left_out("no tail fitted")).await.unwrap();
    let sheet = bench.sheet();
    assert_eq!(cell(&sheet, "rudder right").left_out.as_deref(), Some("no tail fitted"));
    let line = sheet.order.iter().find(|line| line.label == "rudder right").unwrap();
    assert_ne!(line.state, OrderState::Later, "{line:?}");
}

#[tokio::test]
async fn an_end_that_goes_too_far_and_one_that_goes_further_than_the_other_say_what_to_set() {
    let text = Head::template("Workshop trainer").replace("# positive = \"right\"", "positive = \"right\"");
    let head = Head::from_toml(&text.replace("cyclic = \"at most 12\"", "cyclic = \"at most 8\"")).unwrap();
    let bench = Bench::new(&scenario(""), head).await;
    bench.head.tell("endpoint elevator down 70").await;
    bench.arm().await;
    let sheet = bench.play(as_told, asks).await;
    let Question::Outside { way: stick, travel_deg, short: false, .. } = asked(&sheet) else {
        panic!("{:#?}", sheet.step)
    };
    assert_eq!((stick, format!("{:.1}", travel_deg.degrees()).as_str()), (way("elevator up"), "8.9"));
    bench.act(Act::Answer { choice: 0 }).await;
    let sheet = bench.play(as_told, |sheet| cell_is_filled(sheet, "elevator down")).await;
    let advice = |name: &str| cell(&sheet, name).advice.clone();
    let (up, u, verdict) = value(&sheet, "elevator up");
    assert_eq!(verdict, Verdict::Outside);
    let told = advice("elevator up").unwrap();
    assert!(told.starts_with("Set the end point of elevator up to "), "{told}");
    let set: f64 = told.split("up to ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
    assert!((set - 100.0 * 8.0 / up).abs() < 100.0 * (u + 0.4) / up, "{told}, it stands at {up} ± {u}");
    assert_eq!(advice("elevator down"), None, "it is the shorter one, and inside");
}

#[tokio::test]
async fn ends_that_are_inside_and_unlike_say_what_balances_them() {
    let bench = Bench::new(&scenario(""), head()).await;
    bench.head.tell("endpoint elevator down 70").await;
    bench.arm().await;
    let sheet = bench.play(as_told, |sheet| cell_is_filled(sheet, "elevator down")).await;
    let advice = |name: &str| cell(&sheet, name).advice.clone();
    assert_eq!((value(&sheet, "elevator up").2, value(&sheet, "elevator down").2), (Verdict::Inside, Verdict::Inside));
    let told = advice("elevator up").unwrap();
    assert!(told.starts_with("elevator: up is ") && told.contains("set the up end point to "), "{told}");
    assert_eq!(advice("elevator down"), None);
}

/// The logbook is out of its place for a while: what is asked for meanwhile is refused and changes nothing.
struct Away {
    place: PathBuf,
    away: PathBuf,
}

impl Away {
    fn of(bench: &Bench) -> Self {
        let place = bench.logbook.path().unwrap().to_owned();
        let away = place.with_extension("away");
        std::fs::rename(&place, &away).unwrap();
        Self { place, away }
    }

    fn back(self) {
        std::fs::rename(self.away, self.place).unwrap();
    }
}

/// Whether it was refused because the logbook's file is gone.
fn is_gone(refusal: &Refusal) -> bool {
    matches!(refusal, Refusal::NotKept(Trouble::Logbook(error)) if matches!(**error, LogbookError::Gone(_)))
}

#[tokio::test]
async fn a_capture_that_could_not_be_taken_back_is_the_one_that_is_taken_back_next() {
    let bench = Bench::new(&scenario(""), head()).await;
    bench.arm().await;
    bench.play(as_told, |sheet| sheet.step.phase == Phase::Return).await;
    let entries = async || bench.logbook.setup_with_entries(1).await.unwrap().entries;
    let is_end = |entry: &&clinoblade::record::Entry| matches!(&entry.event, Event::Capture(capture) if capture.subject.deflection().to_string() == "elevator up");
    let wrong = entries().await.iter().rfind(is_end).unwrap().id;
    let away = Away::of(&bench);
    assert!(is_gone(&bench.conductor.act(Act::Undo).await.unwrap_err()));
    let sheet = bench.sheet();
    assert!(value_of(&sheet, "elevator up").is_some(), "it still counts, and is shown so");
    assert_eq!((sheet.step.cell.as_deref(), sheet.step.phase), (Some("elevator up"), Phase::Return));
    away.back();
    bench.act(Act::Undo).await;
    let withdrawn = |entry: clinoblade::record::Entry| match entry.event {
        Event::Withdrawn { capture, .. } => Some(capture),
        _ => None,
    };
    assert_eq!(entries().await.into_iter().filter_map(withdrawn).collect::<Vec<_>>(), [wrong]);
    assert_eq!(value_of(&bench.sheet(), "elevator up"), None);
}

#[tokio::test]
async fn cautions_whose_reading_could_not_be_kept_are_still_to_be_read() {
    let bench = Bench::new(&scenario(""), head()).await;
    let last = Caution::ALL.len() - 1;
    for line in 0..last {
        bench.act(Act::Acknowledge { line }).await;
    }
    let away = Away::of(&bench);
    assert!(is_gone(&bench.conductor.act(Act::Acknowledge { line: last }).await.unwrap_err()));
    assert!(!bench.sheet().cautions[last].acknowledged);
    assert_eq!(refused(&bench, Act::Arm).await, guide::Refusal::CautionsFirst);
    away.back();
    bench.act(Act::Acknowledge { line: last }).await;
    assert!(bench.logbook.setup(1).await.unwrap().cautions_acknowledged_at.is_some());
    bench.act(Act::Arm).await;
}

/// The logbook fails in the middle of a capture: nothing is shown as captured, and whoever asks is told why.
#[tokio::test]
async fn a_logbook_that_fails_while_a_stick_is_held_is_said_and_fills_no_cell() {
    let bench = Bench::new(&scenario(""), head()).await;
    bench.arm().await;
    let at_up = |sheet: &Sheet| sheet.step.phase == Phase::Move && sheet.step.cell.as_deref() == Some("elevator up");
    bench.play(as_told, at_up).await;
    let mut cues = bench.conductor.cues();
    bench.logbook.clone().close().await;
    let sheet = bench.play(as_told, |sheet| sheet.step.why.is_some()).await;
    let why = sheet.step.why.clone().unwrap();
    println!("{why}");
    assert!(why.contains("logbook"), "{why}");
    assert_eq!(value_of(&sheet, "elevator up"), None);
    assert_ne!(sheet.step.phase, Phase::Return, "it is not gone on with");
    let mut said = false;
    loop {
        match cues.try_recv() {
            Ok(Cue::Say { say, of: None }) => said |= say == why,
            Ok(_) | Err(TryRecvError::Lagged(_)) => {}
            Err(_) => break,
        }
    }
    assert!(said, "it is spoken too");
    // Whoever asks for something that is to be kept gets the same words, and the setup stays open.
    for act in [Act::Undo, Act::Finish] {
        let refused = bench.conductor.act(act).await.unwrap_err();
        assert!(matches!(refused, Refusal::NotKept(Trouble::Logbook(_))), "{act:?}: {refused:?}");
    }
    assert!(!bench.sheet().finished);
    bench.act(Act::Disarm).await;
}
