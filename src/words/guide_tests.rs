//! What is said of the guide, all of it.

use super::*;
use clinoblade_guide::Item;
use clinoblade_record::{CellName, Task};
use clinoblade_rotor::{Aileron, BladeName, Carrier, Collective, Elevator, LeadingEdge, Rudder, Station};

const UP: Deflection = Deflection::Elevator(Elevator::Up);
const DOWN: Deflection = Deflection::Elevator(Elevator::Down);

fn deg(degrees: f64) -> Angle {
    Angle::from_degrees(degrees)
}

fn main(station: f64) -> Seat {
    Seat { blade: BladeName::A, spot: Spot::Main(Station::from_degrees(station).unwrap()) }
}

fn tail(edge: LeadingEdge) -> Seat {
    Seat { blade: BladeName::A, spot: Spot::Tail(edge) }
}

fn questions() -> Vec<Question> {
    let (at, way) = (main(90.0), UP);
    let left = Deflection::Rudder(Rudder::Left);
    let contradicted = |way, at, own_sensors| Question::Contradicted { way, raised: own_sensors, at, own_sensors };
    let outside = |target, short| Question::Outside { way, travel_deg: deg(14.03), target, short };
    let band = Target::Band { target: deg(12.0), tolerance: deg(0.5) };
    vec![
        Question::NothingMoved { to: at },
        Question::NothingMoved { to: tail(LeadingEdge::Down) },
        Question::Knocked { off_deg: deg(4.56) },
        contradicted(Deflection::Collective(Collective::High), at, false),
        contradicted(way, at, false),
        contradicted(way, at, true),
        contradicted(left, tail(LeadingEdge::Up), false),
        Question::NoAnswer { way, spot: at.spot },
        Question::NoAnswer { way: left, spot: Spot::Tail(LeadingEdge::Up) },
        outside(Target::AtMost(deg(12.0)), false),
        outside(band, true),
        Question::OtherWay { way, instead: Some((5, DOWN)) },
        Question::OtherWay { way, instead: None },
        Question::StandsStill { way },
        Question::NotBack { off_deg: deg(-3.214) },
        Question::CableNotMoved { lifted: false },
        Question::CableNotMoved { lifted: true },
        Question::NotReached { way: Deflection::Aileron(Aileron::Left) },
        Question::NotTakenBack { place: false },
        Question::OfTheRecord,
    ]
}

fn instructions() -> Vec<Instruction> {
    let to = main(90.0);
    let item = Item { task: Task::Capture(Deflection::Rudder(Rudder::Left)), seat: tail(LeadingEdge::Down) };
    let (up, down) = (tail(LeadingEdge::Up), tail(LeadingEdge::Down));
    vec![
        Instruction::ReadCautions,
        Instruction::Start,
        Instruction::Clip { to },
        Instruction::Clip { to: main(0.0) },
        Instruction::Clip { to: up },
        Instruction::Turn { to: main(180.0), own_sensor: false },
        Instruction::Turn { to: main(72.0), own_sensor: true },
        Instruction::Turn { to: down, own_sensor: false },
        Instruction::Turn { to: up, own_sensor: true },
        Instruction::Check { way: Deflection::Collective(Collective::High) },
        Instruction::Check { way: UP },
        Instruction::Neutral { collective: true },
        Instruction::Neutral { collective: false },
        Instruction::Move { way: UP },
        Instruction::Hold { way: UP },
        Instruction::BackOff { way: UP },
        Instruction::LiftCable,
        Instruction::ReleaseCable,
        Instruction::Sweep { to: SweepMove::Centre },
        Instruction::Sweep { to: SweepMove::To(DOWN) },
        Instruction::Sweep { to: SweepMove::Back },
        Instruction::Captured { item },
        Instruction::TakingBack,
        Instruction::LetGo,
        Instruction::Done { left_out: 0, blocked: 0, of: 17 },
        Instruction::Done { left_out: 0, blocked: 1, of: 17 },
        Instruction::Done { left_out: 0, blocked: 2, of: 17 },
        Instruction::Done { left_out: 1, blocked: 0, of: 17 },
        Instruction::Done { left_out: 3, blocked: 0, of: 17 },
        Instruction::Done { left_out: 17, blocked: 0, of: 17 },
    ]
}

fn hints() -> Vec<Hint> {
    let at = main(90.0);
    let next = Item { task: Task::Capture(UP), seat: at };
    let wanted = |target| Hint::Wanted { target, at };
    vec![
        Hint::Closed,
        Hint::TakeClipOff,
        Hint::Next(next),
        Hint::HandsOff { wound: 0 },
        Hint::HandsOff { wound: 1 },
        Hint::HandsOff { wound: 2 },
        Hint::ShowsThePlace,
        wanted(Some(Target::AtMost(deg(12.0)))),
        wanted(Some(Target::Band { target: deg(0.0), tolerance: deg(0.5) })),
        Hint::Wanted { target: None, at: tail(LeadingEdge::Down) },
        Hint::Creeps,
        Hint::ShortOfTheBind,
        Hint::CableAtTheHub,
        Hint::ShowsTheEnds,
    ]
}

fn refusals() -> Vec<Refusal> {
    vec![
        Refusal::Closed,
        Refusal::CautionsFirst,
        Refusal::NoSuchCaution,
        Refusal::NothingToSkip,
        Refusal::Follows { cell: CellName::Track(BladeName::A) },
        Refusal::NoSuchLine,
        Refusal::NoSensor { carrier: Carrier::Tail },
        Refusal::NoSensor { carrier: Carrier::Main(BladeName::A) },
        Refusal::NotRunning,
        Refusal::MoveFirst,
        Refusal::NothingHeld,
        Refusal::NoQuestion,
        Refusal::NoSuchAnswer,
        Refusal::NothingCaptured,
    ]
}

fn choices() -> Vec<Choice> {
    use Choice::{BindsHere, CableHangs, CableIsLifted, Finish, InPlace, LeaveOut, Start, TakeNow, ThatIsAll};
    vec![Finish, Start, InPlace, CableIsLifted, CableHangs, ThatIsAll, TakeNow, BindsHere, LeaveOut]
}

const SPOKEN: [Spoken; 6] = [
    Spoken::Creeps,
    Spoken::BuzzesAtNeutral,
    Spoken::Buzzes,
    Spoken::WentAllTheWayBack,
    Spoken::GoesFurther,
    Spoken::TakenBack,
];

/// Everything of the guide on one face, a line each.
pub fn all(face: Face) -> Vec<String> {
    let asked = questions().into_iter().flat_map(|question| {
        let answers = question.answers().into_iter().enumerate();
        let answers = answers
            .map(move |(number, answer)| format!("  - {}", Choice::Answer { number, question, answer }.say(face)));
        let why = why(question, face).map(|why| format!("  {why}"));
        std::iter::once(Instruction::Answer { question }.say(face)).chain(why).chain(answers)
    });
    let mut lines: Vec<String> = instructions().iter().map(|said| said.say(face)).collect();
    lines.extend(hints().iter().map(|said| said.say(face)));
    lines.extend(choices().iter().map(|said| said.say(face)));
    lines.extend(asked);
    lines.extend(refusals().iter().map(|said| said.say(face)));
    lines.extend(SPOKEN.iter().map(|said| said.say(face)));
    lines.extend([deg(90.0), deg(-180.0)].map(turn));
    lines
}

#[test]
fn the_guide_on_the_page() {
    insta::assert_snapshot!(all(Face::Page).join("\n"));
}

#[test]
fn the_guide_by_voice() {
    let (page, voice) = (all(Face::Page), all(Face::Voice));
    let differ: Vec<&str> =
        page.iter().zip(&voice).filter(|(page, voice)| page != voice).map(|(_, voice)| voice.as_str()).collect();
    insta::assert_snapshot!(differ.join("\n"));
}

#[test]
fn what_is_said_of_the_guide_ends_once_and_with_a_full_stop_or_a_question_mark() {
    let sentences = instructions().iter().map(|said| said.say(Face::Page)).collect::<Vec<_>>().into_iter();
    let asked = questions().into_iter().flat_map(|q| std::iter::once(q.say(Face::Page)).chain(why(q, Face::Page)));
    let hinted = hints().into_iter().map(|hint| hint.say(Face::Page));
    let refused = refusals().into_iter().map(|refusal| refusal.say(Face::Page));
    for said in sentences.chain(asked).chain(hinted).chain(refused) {
        let twice = ["..", "?.", "!.", "°°", "  "].iter().any(|end| said.contains(end));
        assert!(!twice && said.ends_with(['.', '?']), "{said:?}");
    }
}
