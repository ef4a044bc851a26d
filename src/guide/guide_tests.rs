//! The guide with a person who has all the time in the world: it comes with what is seen, and nobody waits for it.

use super::order::turn;
use super::person::{DOWN, Person, REST, THROW, UP, head, is_at};
use super::stage::Stage;
use super::*;
use crate::record::{CellName, Planned, Seat, Task};
use crate::rotor::{Aileron, BladeName, Collective, Deflection, LeadingEdge, Spot, Station};
use crate::uncertainty::Target;
use crate::units::Angle;

#[test]
fn the_whole_job_is_led_through_to_its_end() {
    let mut person = Person::new(2);
    person.play(|guide| guide.step().phase == Phase::Done);
    assert!(person.guide.order().all(|(line, _)| line.state == LineState::Captured));
    let lines = person.guide.order().count();
    assert!(person.heard.len() > 2 * lines, "{} times spoken", person.heard.len());
    let done = Instruction::Done { left_out: 0, blocked: 0, of: lines };
    assert_eq!(person.heard.last(), Some(&Spoken::Step(done)));
    assert_eq!(person.guide.step().choices, [Choice::Finish], "closing the setup is what is left");
    person.act(&Act::Finish);
    assert!(person.guide.step().choices.is_empty());
}

#[test]
fn an_end_that_the_record_holds_no_more_is_led_to_once_more_and_what_it_wants_besides() {
    let mut person = Person::new(2);
    let all: Vec<Planned> = person
        .guide
        .order()
        .map(|(line, _)| Planned { task: line.task, seat: line.seat, held: true, blocked: false })
        .collect();
    let zero = |station| Seat { blade: BladeName::A, spot: Spot::Main(Station::from_degrees(station).unwrap()) };
    let mut first = all.clone();
    first.insert(2, Planned { task: all[0].task, seat: zero(0.0), held: false, blocked: false });
    let up = all.iter().position(|planned| planned.task == Task::Capture(UP)).unwrap();
    first[up + 1].held = false;
    // Of this one only its end point makes something else.
    let down = all.iter().position(|planned| planned.task == Task::Capture(DOWN)).unwrap();
    (first[down + 1].held, first[down + 1].blocked) = (false, true);
    person.reviews.push_back(first);
    person.play(|guide| guide.step().phase == Phase::Done);
    let times = |label: &str| {
        let id = person.guide.order().find(|(line, _)| line.item().to_string() == label).unwrap().0.id;
        person.guide.taken.iter().filter(|(line, _)| *line == id).count()
    };
    assert_eq!((times("elevator up"), times("elevator down")), (2, 1));
    // The quarter between goes with all the others of its blade, on one seat of the clip.
    assert_eq!((times("blade A zero at 0°"), times("blade A zero at 90°"), times("blade B zero at 90°")), (1, 2, 1));
    let lines = all.len() + 1;
    assert_eq!(person.heard.last(), Some(&Spoken::Step(Instruction::Done { left_out: 0, blocked: 0, of: lines })));
    let said_done = |said: &&Spoken| matches!(said, Spoken::Step(Instruction::Done { .. }));
    assert_eq!(person.heard.iter().filter(said_done).count(), 1, "not done while something is to come");
    assert_eq!(person.guide.order().nth(2).unwrap().0.item().to_string(), "blade A zero at 0°");
}

#[test]
fn a_stick_that_moves_nothing_is_asked_about_after_25_seconds() {
    let mut person = Person::new(2);
    person.play_to(Phase::Move, "elevator up");
    person.hold(24.0);
    assert!(!person.is_asked());
    let (_, question) = person.asked_within(3.0);
    assert_eq!(question, Question::StandsStill { way: UP });
    // "I will move it now" begins the wait anew; a movement in between does, too.
    person.act(&Act::Answer { choice: 0 });
    person.hold(18.0);
    person.go(1.4);
    person.go(0.0);
    person.hold(6.0);
    assert!(!person.is_asked());
    let (_, question) = person.asked_within(6.0);
    assert_eq!(question, Question::StandsStill { way: UP });
    person.act(&Act::Answer { choice: 1 });
    assert_eq!(state(&person, "elevator up"), LineState::Skipped, "left out, as was answered");
}

#[test]
fn a_check_stick_that_shows_nothing_is_asked_about_after_12_seconds() {
    let mut person = Person::new(2);
    person.play(|guide| guide.step().phase == Phase::CheckStick);
    // The first rest is what it is held against.
    person.hold(REST + 12.0);
    assert!(!person.is_asked());
    let (_, question) = person.asked_within(3.0);
    let way = Deflection::Collective(Collective::High);
    assert_eq!(question, Question::NoAnswer { way, spot: person.guide.at_hand().unwrap().seat.spot });
    // The stick answers it.
    person.rest();
    assert!(person.is_asked(), "nothing moved yet");
    person.go(0.5 * THROW * person.sign(way));
    person.go(0.0);
    person.rest();
    assert!(!person.is_asked(), "{:?}", person.guide.stage);
    assert_eq!(person.guide.step().phase, Phase::CheckStick, "the next short movement");
}

/// Somebody who has taken the clip off on the way to another place and goes back to the last line finds no clip there.
#[test]
fn a_place_that_was_left_on_the_way_is_not_the_place_before() {
    let to_b = |person: &mut Person| {
        person.play_to(Phase::Place, "blade B zero at 90°");
        person.rest();
    };
    let mut person = Person::new(2);
    to_b(&mut person);
    person.go_to("blade A zero at 270°");
    assert_eq!(person.guide.step().phase, Phase::Neutral, "nothing was moved");
    let mut person = Person::new(2);
    to_b(&mut person);
    person.go(person.pitch + 10.0);
    person.go_to("blade A zero at 270°");
    assert_eq!(person.guide.step().phase, Phase::Place, "the clip may be anywhere");
}

/// The head rests on its way: the blade never comes back to where it stood then.
#[test]
fn a_check_that_began_too_early_begins_again() {
    let mut person = Person::new(2);
    person.play(|guide| guide.step().phase == Phase::Place);
    person.go(person.pitch + 10.0);
    person.go(4.0);
    person.hold(2.0 * REST);
    assert_eq!(person.guide.step().phase, Phase::CheckStick);
    person.go(0.0);
    let Stage::Check(check) = person.guide.stage.clone() else { panic!("{:?}", person.guide.stage) };
    let over = 0.5 * THROW * person.sign(check.ways[0]);
    person.go(over);
    person.go(0.0);
    let heard = person.heard.len();
    person.hold(12.0);
    assert_eq!(person.heard.len(), heard, "the blade may still come back");
    person.hold(3.0);
    assert_eq!(person.heard[heard..], [Spoken::Step(Instruction::Check { way: check.ways[0] })], "said once more");
    person.go(over);
    person.go(0.0);
    person.hold(REST);
    let Stage::Check(next) = &person.guide.stage else { panic!("{:?}", person.guide.stage) };
    assert_eq!(next.ways, check.ways[1..], "it has gone on");
}

#[test]
fn a_stick_that_does_not_come_back_is_asked_about_after_12_seconds() {
    let mut person = Person::new(2);
    person.play_to(Phase::Return, "elevator up");
    person.hold(12.0);
    assert!(!person.is_asked());
    let (_, question) = person.asked_within(3.0);
    let Question::NotBack { off_deg } = question else { panic!("{question:?}") };
    assert!((off_deg.abs().degrees() - THROW).abs() < 1e-9, "{off_deg}");
}

#[test]
fn a_question_about_a_stick_goes_away_when_the_stick_answers_it() {
    let mut person = Person::new(2);
    person.play_to(Phase::Return, "elevator up");
    person.asked_within(15.0);
    // Half-way back is no answer.
    person.go(0.5 * THROW);
    person.rest();
    assert!(matches!(person.guide.question(), Some(Question::NotBack { .. })));
    person.go(0.0);
    person.rest();
    assert_eq!(person.guide.question(), None);
    assert_eq!(state(&person, "elevator up"), LineState::Captured, "what was captured is kept");
    assert!(
        person.guide.step().phase == Phase::Move && is_at(&person.guide, "elevator down"),
        "{:?}",
        person.guide.step()
    );

    let mut person = Person::new(2);
    person.play_to(Phase::Move, "elevator up");
    person.asked_within(30.0);
    person.rest();
    assert_eq!(person.guide.question(), Some(Question::StandsStill { way: UP }), "nothing has moved");
    person.go(THROW);
    person.rest();
    assert_eq!(person.guide.question(), None);
    assert_eq!(state(&person, "elevator up"), LineState::Captured, "the stick came after all");
}

#[test]
fn an_end_that_does_not_come_once_more_is_asked_about_after_12_seconds() {
    let mut person = Person::new(2);
    person.play(|guide| matches!(guide.step().instruction, Instruction::Sweep { to: SweepMove::To(_) }));
    person.hold(10.5);
    assert!(!person.is_asked());
    let (_, question) = person.asked_within(4.5);
    assert_eq!(question, Question::NotReached { way: Deflection::Aileron(Aileron::Left) });
}

#[test]
fn what_contradicts_is_asked() {
    // The other way, outside of what is wanted, a knocked head, a clip that nobody has touched.
    let mut person = Person::new(2);
    person.play_to(Phase::Move, "elevator up");
    person.go(-THROW);
    person.hold(REST);
    let down = person.guide.order().find(|(line, _)| line.deflection() == DOWN).unwrap().0.id;
    assert_eq!(person.guide.question(), Some(Question::OtherWay { way: UP, instead: Some((down, DOWN)) }));
    let mut person = Person::new(2);
    person.play_to(Phase::Move, "elevator up");
    person.go(14.0);
    let (_, question) = person.asked_within(6.0);
    let Question::Outside { way: UP, travel_deg, target: Target::AtMost(_), short: false } = question else {
        panic!("{question:?}")
    };
    assert!((travel_deg.degrees() - 14.0).abs() < 1e-9, "{travel_deg}");
    let mut person = Person::new(2);
    person.play_to(Phase::Move, "elevator up");
    person.span = 5.0;
    let (_, question) = person.asked_within(REST);
    assert_eq!(question, Question::Knocked { off_deg: Angle::from_degrees(5.0) });
    let mut person = Person::new(2);
    person.play_to(Phase::Place, "blade B zero at 90°");
    let (waited, question) = person.asked_within(20.0);
    assert_eq!(question, Question::NothingMoved { to: seat(1, 90.0) });
    assert!(waited >= 15.0, "after {waited} s");
}

fn state(person: &Person, label: &str) -> LineState {
    person.guide.order().find(|(line, _)| line.item().to_string() == label).unwrap().0.state
}

/// A trainer whose logbook fails: nothing is marked or said as done, and once it is back the same is done.
#[test]
fn what_could_not_be_kept_is_not_done_and_is_done_again() {
    let mut person = Person::new(2);
    for (line, phase) in [("cable", Phase::Cable), ("aileron once more", Phase::OnceMore)] {
        person.play_to(phase, line);
        person.logbook = false;
        for _ in 0..6 {
            person.follow();
        }
        assert_eq!((state(&person, line), person.guide.step().phase), (LineState::Later, phase));
        assert!(person.guide.step().not_kept);
        person.logbook = true;
        person.play(|guide| !is_at(guide, line));
        assert_eq!((state(&person, line), person.guide.step().not_kept), (LineState::Captured, false));
    }
    assert_eq!(person.edits.iter().filter(|edit| matches!(edit, RecordEdit::Cable)).count(), 1);
}

/// The stick goes on where the end was captured already, and the logbook fails: it still counts, and that is asked about.
#[test]
fn a_capture_that_cannot_be_taken_back_still_counts_and_is_asked_about() {
    let mut person = Person::new(2);
    person.play_to(Phase::Return, "elevator up");
    let taken = person.guide.taken.clone();
    person.logbook = false;
    person.go(THROW * 1.3);
    assert!(person.is_asked());
    assert_eq!(person.guide.question(), Some(Question::NotTakenBack { place: false }));
    assert!(person.guide.step().not_kept);
    assert!(!person.heard.contains(&Spoken::TakenBack));
    assert_eq!((&person.guide.taken, state(&person, "elevator up")), (&taken, LineState::Captured));
    person.logbook = true;
    person.act(&Act::Answer { choice: 0 });
    assert_eq!(person.edits.last(), Some(&RecordEdit::Withdraw(taken.last().unwrap().1)));
    assert_eq!(state(&person, "elevator up"), LineState::Later);
    assert!(person.heard.contains(&Spoken::TakenBack));
}

#[test]
fn what_was_left_out_is_kept_once_however_often_the_setup_is_closed() {
    let mut person = Person::new(2);
    person.play_to(Phase::Move, "elevator up");
    person.act(&Act::Skip);
    person.logbook = false;
    for _ in 0..2 {
        person.act(&Act::Finish);
        assert!(!person.guide.finished && person.guide.is_armed(), "the job goes on");
    }
    person.logbook = true;
    person.act(&Act::Finish);
    let up = RecordEdit::LeftOut(CellName::Limit("elevator up".parse().unwrap()));
    assert_eq!(person.edits[person.edits.len() - 2..], [up, RecordEdit::Finish]);
    assert!(person.guide.finished);
}

fn seat(blade: usize, station: f64) -> Seat {
    let blade = head(5).blades.names().nth(blade).unwrap();
    Seat { blade, spot: Spot::Main(Station::from_degrees(station).unwrap()) }
}

/// By what the head is to be turned to bring one blade to its station after another stood at its own: plane geometry.
#[test]
fn the_head_is_turned_the_shorter_way() {
    for (from, to, blades, by) in [
        (seat(0, 90.0), seat(0, 0.0), 2, -90.0),
        (seat(0, 0.0), seat(0, 90.0), 2, 90.0),
        (seat(1, 90.0), seat(0, 90.0), 2, 180.0),
        // The next of three stands 120° behind in the direction of rotation; the one after is nearer the other way.
        (seat(0, 90.0), seat(1, 90.0), 3, -120.0),
        (seat(0, 90.0), seat(2, 90.0), 3, 120.0),
        (seat(0, 90.0), seat(4, 90.0), 5, 72.0),
        (seat(0, 350.0), seat(0, 10.0), 2, 20.0),
    ] {
        let turned = turn(from, to, blades).unwrap().degrees();
        assert!((turned - by).abs() < 1e-6, "{from:?} to {to:?} of {blades}: {turned}, not {by}");
    }
    let tail = Seat { spot: Spot::Tail(LeadingEdge::Up), ..seat(0, 0.0) };
    assert_eq!(turn(seat(0, 90.0), tail, 2), None);
}

#[test]
fn half_turns_to_and_fro_do_not_wind_the_cable() {
    let mut person = Person::new(2);
    let mut turns = Vec::new();
    for _ in 0..4 {
        for line in ["blade B zero at 90°", "blade A zero at 90°"] {
            person.go_to(line);
            turns.extend(person.guide.turn_wanted().map(Angle::degrees));
            person.play(|guide| !is_at(guide, line));
            assert_eq!(person.guide.cable_turns(), 0.0, "{turns:?}");
        }
    }
    assert_eq!(turns, [180.0, -180.0, 180.0, -180.0, 180.0, -180.0, 180.0]);
}

#[test]
fn a_cable_that_was_wound_once_round_is_to_be_unwound_first_and_counts_anew() {
    let mut person = Person::new(5);
    let redo = |person: &mut Person, blade: char| {
        let line = format!("blade {blade} zero at 90°");
        person.go_to(&line);
        let hint = person.guide.step().hint;
        person.play(|guide| !is_at(guide, &line));
        let Some(Hint::HandsOff { wound }) = hint else { panic!("{hint:?}") };
        wound
    };
    // Each blade is brought 72° on in the direction of rotation, and nobody turns back.
    for blade in "EDCBAE".chars() {
        assert_eq!(redo(&mut person, blade), 0, "{blade}");
    }
    assert_eq!(person.guide.cable_turns(), 1.0);
    assert_eq!(redo(&mut person, 'D'), 1, "to be unwound first");
    assert_eq!(person.guide.cable_turns(), 0.0, "it was unwound");
    assert_eq!(redo(&mut person, 'C'), 0);
}

/// Half of a zero that is read again after the clip went to another blade would be no half of the same seat: both are read again.
#[test]
fn both_halves_of_a_zero_are_read_on_one_seat_of_the_clip() {
    let mut person = Person::new(2);
    person.play(|guide| is_at(guide, "blade A zero at 270°"));
    // The clip is still on: only this half.
    person.go_to("blade A zero at 90°");
    assert_eq!(state(&person, "blade A zero at 270°"), LineState::Later);
    person.play(|guide| is_at(guide, "blade B zero at 270°"));
    assert_eq!(state(&person, "blade A zero at 90°"), LineState::Captured);
    person.go_to("blade A zero at 270°");
    assert!(is_at(&person.guide, "blade A zero at 90°"), "the first of both, as the clip was moved");
    assert_eq!(state(&person, "blade A zero at 270°"), LineState::Later);
    person.play(|guide| guide.step().phase == Phase::Done);
    assert!(person.guide.order().all(|(line, _)| line.state == LineState::Captured));
}

/// The travel from mid stick is no pitch: what is wanted of the collective's ends stops nobody, too low or too high as they may be.
#[test]
fn the_ends_of_the_collective_are_captured_whatever_pitch_is_wanted() {
    for (low, high) in [("-8 ± 0.5", "8 ± 0.5"), ("-10 ± 0.5", "12 ± 0.5"), ("-6 ± 0.5", "6 ± 0.5")] {
        let mut head = head(2);
        head.targets.collective_low = Some(low.parse().unwrap());
        head.targets.collective_high = Some(high.parse().unwrap());
        let mut person = Person::at_head(&head);
        person.play(|guide| guide.step().phase == Phase::Done);
        for end in ["collective low", "collective high"] {
            assert_eq!(state(&person, end), LineState::Captured, "{end} at {low} and {high}");
        }
    }
}
