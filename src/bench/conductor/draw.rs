//! The sheet as it stands.

use super::Trouble;
use super::outbox_worker::waiting;
use super::run::SessionOptions;
use super::sensors::{Kept, Sensors};
use super::sheet::{
    Caution, Cell, CellState, Choice, HistoryLine, Link, LinkState, OrderLine, OrderState, Plan, Section, SectionRotor,
    SensorLine, SetupLine, Sheet, Side, Step, Target, Turn, Verdict,
};
use crate::SetupHandle;
use crate::guide::{self, Guide, Instruction, Line, LineState, Question, SweepMove};
use crate::record;
use crate::record::{CellName, Task};
use crate::rotor::{BladeName, Collective, Deflection, LeadingEdge, Rotation, Spot};
use crate::uncertainty;
use crate::units::{Angle, Hertz};
use crate::words::{self, Face, Say};

/// Where the sheet is read: nothing can be typed there.
const FACE: Face = Face::Page;

/// Everything that the sheet is drawn from.
pub(super) struct Now<'a> {
    pub guide: &'a Guide,
    pub open: &'a SetupHandle,
    pub options: &'a SessionOptions,
    pub sensors: &'a Sensors,
    pub link: LinkNow<'a>,
    /// Why the last capture or edit could not be kept.
    pub trouble: Option<&'a Trouble>,
    /// What the record asks about the capture at hand.
    pub doubt: Option<record::Question>,
    pub version: u64,
}

/// How the link stands now.
#[derive(Clone, Copy)]
pub(super) struct LinkNow<'a> {
    pub state: LinkState,
    pub said: &'a str,
    pub rate: Option<Hertz>,
}

/// Draws the sheet.
pub(super) fn draw(now: &Now<'_>) -> Sheet {
    let (guide, open) = (now.guide, now.open);
    let record = open.record();
    let setup = open.setup();
    let cautions = record::trade::Caution::ALL.iter().zip(guide.cautions());
    Sheet {
        version: now.version,
        demo: now.options.demo,
        setup: SetupLine {
            number: setup.number,
            head: setup.head.name.clone(),
            reason: setup.reason.clone(),
            measured_by: setup.measured_by.clone(),
            rotation: setup.head.rotation.to_string(),
            main_blades: setup.head.blades.get(),
            tail_blades: setup.head.tail.blades.get(),
        },
        cautions: cautions
            .map(|(caution, acknowledged)| Caution { text: caution.say(FACE), acknowledged: *acknowledged })
            .collect(),
        armed: guide.is_armed(),
        voice: true,
        tones: true,
        link: link(now.link, now.sensors.now()),
        sensors: sensors(now.sensors),
        waiting: waiting(open.logbook()),
        waits: None,
        step: step(now),
        plan: plan(guide),
        section: section(guide, setup.head.rotation),
        cells: cells(guide, open, &record),
        order: order(guide),
        pictures: Vec::new(),
        sweeps_owed: words::record::sweeps_owed(&record),
        complete: record.complete,
        good: record.good,
        finished: setup.closed_at.is_some(),
    }
}

/// The step in words, as it stands on the sheet.
fn step(now: &Now<'_>) -> Step {
    let step = now.guide.step();
    let (question, trouble) = (now.guide.question(), || now.trouble.map(|trouble| trouble.say(FACE)));
    let sentence = match (question, &now.doubt) {
        (Some(Question::OfTheRecord), Some(doubt)) => doubt.say(FACE),
        _ => step.instruction.say(FACE),
    };
    let why = match question {
        Some(question) => words::guide::why(question, FACE).or_else(trouble),
        None if step.not_kept => trouble(),
        None => None,
    };
    let cell = match step.instruction {
        Instruction::Sweep { to: SweepMove::To(way) } => Some(way.to_string()),
        Instruction::Sweep { .. } => None,
        _ => step.item.map(|item| match item.task {
            Task::Capture(Deflection::Collective(Collective::Mid)) => CellName::Zero(item.seat.blade).to_string(),
            _ => item.to_string(),
        }),
    };
    let choice = |choice: &guide::Choice| Choice { act: choice.act(), label: choice.say(FACE), key: choice.key() };
    Step {
        phase: step.phase,
        instruction: step.instruction,
        sentence,
        hint: step.hint,
        detail: step.hint.map_or_else(String::new, |hint| hint.say(FACE)),
        cell,
        number: step.number,
        of: step.of,
        choices: step.choices.iter().map(choice).collect(),
        hold_s: step.hold_s,
        why,
    }
}

fn link(now: LinkNow<'_>, sensor: &Kept) -> Link {
    let counters = sensor.counters().unwrap_or_default();
    Link {
        state: now.state,
        said: now.said.to_owned(),
        source: sensor.name.clone(),
        rate_hz: now.rate.map(|rate| (rate.value() * 10.0).round() / 10.0),
        lost: counters.lost,
        damaged: counters.damaged(),
    }
}

/// The sensors, where there are several.
fn sensors(sensors: &Sensors) -> Vec<SensorLine> {
    let line = |(sensor, read): (&Kept, bool)| {
        let counters = sensor.counters().unwrap_or_default();
        Some(SensorLine {
            carrier: sensor.instrument.carrier?.to_string(),
            source: sensor.name.clone(),
            up: sensor.is_up(),
            read,
            lost: counters.lost,
            damaged: counters.damaged(),
        })
    };
    sensors.iter().filter_map(line).collect()
}

const fn rotor(spot: Spot) -> SectionRotor {
    match spot {
        Spot::Main(_) => SectionRotor::Main,
        Spot::Tail(_) => SectionRotor::Tail,
    }
}

fn plan(guide: &Guide) -> Plan {
    let seat = guide.at_hand().map(|line| line.seat).or_else(|| guide.seat());
    let (blade, spot) = seat.map_or((BladeName::A, None), |seat| (seat.blade, Some(seat.spot)));
    let clip_blade = guide.seat().map_or(blade, |seat| seat.blade);
    Plan {
        blade: blade.to_string(),
        clip_blade: clip_blade.to_string(),
        clip: "forward".to_owned(),
        station_deg: spot.and_then(|spot| match spot {
            Spot::Main(station) => Some(f64::from(station)),
            Spot::Tail(_) => None,
        }),
        leading_edge: spot.and_then(|spot| match spot {
            Spot::Main(_) => None,
            Spot::Tail(LeadingEdge::Up) => Some("up".to_owned()),
            Spot::Tail(LeadingEdge::Down) => Some("down".to_owned()),
        }),
        rotor: spot.map_or(SectionRotor::Main, rotor),
        turn: guide.turn_wanted().map(|by| Turn { by_deg: by.degrees(), said: words::guide::turn(by) }),
        cable_turns: guide.cable_turns(),
    }
}

fn section(guide: &Guide, rotation: Rotation) -> Section {
    let (target, from, sign) = guide.wanted_here();
    let seat = guide.at_hand().map(|line| line.seat).or_else(|| guide.seat());
    let rotor = seat.map_or(SectionRotor::Main, |seat| rotor(seat.spot));
    // Seen from the tip the leading edge lies to the left where the rotor turns clockwise.
    let side = if rotation.is_anticlockwise() { Side::Right } else { Side::Left };
    let leading_edge = (rotor == SectionRotor::Main).then_some(side);
    Section {
        rotor,
        target: target.map(|target| match target {
            uncertainty::Target::Band { target, tolerance } => {
                Target::Band { value_deg: target.degrees(), tolerance_deg: tolerance.degrees() }
            }
            uncertainty::Target::AtMost(ceiling) => Target::AtMost { value_deg: ceiling.degrees() },
        }),
        from_deg: from.map(Angle::degrees),
        sign: sign.map(|sign| if sign < 0.0 { -1 } else { 1 }),
        leading_edge,
        said: words::bench::seen_from_the_tip(leading_edge.map(|side| side == Side::Right)),
    }
}

fn cells(guide: &Guide, open: &SetupHandle, record: &record::LimitRecord) -> Vec<Cell> {
    let with_advice = |cell| {
        let advice = record::remedy(&open.setup().head, open.entries(), record, cell);
        let turns = advice.as_ref().map(record::Advice::adjustments).unwrap_or_default();
        Cell { advice: advice.map(|advice| advice.say(FACE)), turns, ..drawn(cell, record, guide) }
    };
    record.cells.iter().map(with_advice).collect()
}

/// The cell that a line fills; of an axis that is moved once more, the end that is still to be reached.
fn at_hand(guide: &Guide) -> Option<CellName> {
    match guide.step().instruction {
        Instruction::Sweep { to: SweepMove::To(way) } => Some(CellName::Limit(way)),
        _ => guide.at_hand()?.cell(),
    }
}

fn next(guide: &Guide) -> Option<CellName> {
    let mut after = guide.order().skip_while(|(_, now)| !now).skip(1);
    after.find(|(line, _)| line.state == LineState::Later)?.0.cell()
}

/// The name of a cell in two parts, for a table in which neighbours share the first.
fn parts(name: CellName) -> [String; 2] {
    match name {
        CellName::Zero(blade) => [format!("blade {blade}"), "zero".to_owned()],
        CellName::Slop(blade) => [format!("blade {blade}"), "slop".to_owned()],
        CellName::Spindle(blade) => [format!("blade {blade}"), "spindle".to_owned()],
        CellName::Droop(blade) => ["droop".to_owned(), format!("{blade} \u{2212} {}", BladeName::A)],
        CellName::Track(blade) => ["track".to_owned(), format!("{blade} \u{2212} {}", BladeName::A)],
        CellName::Limit(end) => [end.axis().to_string(), end.direction()],
        CellName::Corner(corner) => ["corner".to_owned(), corner.to_string()],
        CellName::SwashLevel => ["swash level".to_owned(), String::new()],
        CellName::Cable => ["cable".to_owned(), String::new()],
        CellName::TailNeutral => ["tail".to_owned(), "neutral".to_owned()],
        CellName::TailSplit => ["tail".to_owned(), "split".to_owned()],
    }
}

fn drawn(cell: &record::Cell, record: &record::LimitRecord, guide: &Guide) -> Cell {
    let once_more =
        record.swept.iter().filter(|end| cell.name == CellName::Limit(end.deflection)).map(|end| end.say(FACE));
    let line = guide.order().find(|(line, _)| line.cell() == Some(cell.name)).map(|(line, _)| line.state);
    let state = match line {
        _ if at_hand(guide) == Some(cell.name) => CellState::Now,
        _ if next(guide) == Some(cell.name) => CellState::Next,
        Some(LineState::Skipped) => CellState::Skipped,
        Some(LineState::Later) => CellState::Later,
        _ if cell.value.is_some() => CellState::Left,
        _ => CellState::Later,
    };
    Cell {
        cell: cell.name,
        name: parts(cell.name),
        target: words::table::wanted(cell),
        value_deg: cell.judged().map(|(angle, _)| angle.degrees()),
        expanded_deg: cell.judged().map(|(_, expanded)| expanded.degrees()),
        verdict: Verdict::from(&cell.verdict),
        mark: cell.verdict.mark().to_string(),
        consequence: words::record::consequence(cell, Face::Page).unwrap_or_default(),
        question: cell.question.as_ref().map(|question| question.say(Face::Page)),
        remarks: words::record::remarks(cell).into_iter().chain(once_more).collect(),
        history: cell
            .history
            .iter()
            .map(|earlier| HistoryLine {
                at: earlier.taken_at.to_zoned_datetime(jiff::tz::TimeZone::system()).strftime("%H:%M").to_string(),
                angle_deg: earlier.angle.degrees(),
                withdrawn: earlier.withdrawn,
            })
            .collect(),
        state,
        advice: None,
        turns: Vec::new(),
        owed: cell.is_owed(),
        left_out: cell.left_out.clone(),
    }
}

fn order(guide: &Guide) -> Vec<OrderLine> {
    let state = |line: &Line, now: bool| match line.state {
        _ if now => OrderState::Now,
        LineState::Captured => OrderState::Captured,
        LineState::Later => OrderState::Later,
        LineState::Skipped => OrderState::Skipped,
    };
    let drawn = |(line, now): (&Line, bool)| OrderLine {
        id: line.id,
        label: line.item().to_string(),
        cell: line.cell(),
        state: state(line, now),
    };
    guide.order().map(drawn).collect()
}
