//! The sheet as it stands.

use super::courier::waiting;
use super::run::Wishes;
use super::sensors::{Kept, Sensors};
use super::sheet::{
    Caution, Cell, CellState, HistoryLine, Link, LinkState, OrderLine, OrderState, Plan, Section, SectionRotor,
    SensorLine, SetupLine, Sheet, Target, Turn,
};
use crate::OpenSetup;
use crate::guide::{Guide, Line, LineState};
use crate::record;
use crate::record::CellName;
use crate::rotor::{BladeName, LeadingEdge, Rotation, Spot};
use crate::uncertainty;
use crate::units::{Angle, Hertz};
use crate::words::{self, Face, Say};

/// How the link stands now.
#[derive(Clone, Copy)]
pub(super) struct LinkNow<'a> {
    pub state: LinkState,
    pub said: &'a str,
    pub rate: Option<Hertz>,
}

/// Draws the sheet.
pub(super) fn draw(
    guide: &Guide,
    open: &OpenSetup,
    wishes: &Wishes,
    sensors: &Sensors,
    link: LinkNow<'_>,
    version: u64,
) -> Sheet {
    let record = open.record();
    let setup = open.setup();
    Sheet {
        version,
        demo: wishes.demo,
        setup: SetupLine {
            number: setup.number,
            head: setup.head.name.clone(),
            reason: setup.reason.clone(),
            measured_by: setup.measured_by.clone(),
            rotation: setup.head.rotation.to_string(),
            main_blades: setup.head.blades.get(),
            tail_blades: setup.head.tail.blades.get(),
        },
        cautions: guide
            .cautions()
            .map(|(caution, acknowledged)| Caution { text: caution.say(Face::Page), acknowledged })
            .collect(),
        armed: guide.is_armed(),
        voice: true,
        tones: true,
        link: self::link(link, sensors.now()),
        sensors: self::sensors(sensors),
        waiting: waiting(open.logbook()),
        refused: None,
        step: guide.step(),
        plan: plan(guide),
        section: section(guide, setup.head.rotation),
        cells: cells(guide, open, &record),
        order: order(guide),
        pictures: Vec::new(),
        complete: record.complete,
        good: record.good,
        finished: setup.closed_at.is_some(),
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
        turn: guide.turn_wanted().map(|by| Turn {
            by_deg: by.degrees(),
            said: format!(
                "turn the head by {:.0}°, {} its direction of rotation",
                by.abs().degrees(),
                if by > Angle::ZERO { "in" } else { "against" }
            ),
        }),
        cable_turns: guide.cable_turns(),
    }
}

fn section(guide: &Guide, rotation: Rotation) -> Section {
    let (target, from, sign) = guide.wanted_here();
    // Seen from the tip the leading edge lies to the left where the rotor turns clockwise.
    let side = if rotation.is_anticlockwise() { "right" } else { "left" };
    let seat = guide.at_hand().map(|line| line.seat).or_else(|| guide.seat());
    let rotor = seat.map_or(SectionRotor::Main, |seat| rotor(seat.spot));
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
        said: match rotor {
            SectionRotor::Main => format!("seen from the tip, leading edge to the {side}"),
            SectionRotor::Tail => "seen from the tip".to_owned(),
        },
    }
}

fn cells(guide: &Guide, open: &OpenSetup, record: &record::LimitRecord) -> Vec<Cell> {
    let now = guide.step().cell;
    let next = next_label(guide);
    let advice = |cell| {
        let advice = record::remedy(&open.setup().head, open.entries(), record, cell);
        advice.map(|advice| crate::words::Say::say(&advice, crate::words::Face::Page))
    };
    let drawn = |cell| Cell { advice: advice(cell), ..drawn(cell, record, guide, now.as_deref(), next.as_deref()) };
    record.cells.iter().map(drawn).collect()
}

fn next_label(guide: &Guide) -> Option<String> {
    let mut after = guide.order().skip_while(|(_, now)| !now).skip(1);
    after.find(|(line, _)| line.state == LineState::Later).map(|(line, _)| line.label())
}

fn drawn(
    cell: &record::Cell,
    record: &record::LimitRecord,
    guide: &Guide,
    now: Option<&str>,
    next: Option<&str>,
) -> Cell {
    let name = cell.name.to_string();
    let once_more =
        record.swept.iter().filter(|end| cell.name == CellName::Limit(end.deflection)).map(|end| end.say(Face::Page));
    let line = guide.order().find(|(line, _)| line.label() == name).map(|(line, _)| line.state);
    let state = match line {
        _ if now == Some(&*name) => CellState::Now,
        _ if next == Some(&*name) => CellState::Next,
        Some(LineState::Skipped) => CellState::Skipped,
        Some(LineState::Later) => CellState::Later,
        _ if cell.value.is_some() => CellState::Left,
        _ => CellState::Later,
    };
    Cell {
        target: words::table::wanted(cell),
        value_deg: cell.value.as_ref().map(|value| value.angle.degrees()),
        expanded_deg: cell.value.as_ref().map(|value| value.expanded.degrees()),
        verdict: cell.verdict.word().to_owned(),
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
        cell: name,
    }
}

fn order(guide: &Guide) -> Vec<OrderLine> {
    let state = |line: &Line, now: bool| match line.state {
        _ if now => OrderState::Now,
        LineState::Captured => OrderState::Captured,
        LineState::Later => OrderState::Later,
        LineState::Skipped => OrderState::Skipped,
    };
    guide.order().map(|(line, now)| OrderLine { id: line.id, label: line.label(), state: state(line, now) }).collect()
}
