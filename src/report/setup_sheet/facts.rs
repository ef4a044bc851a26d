//! What is known of a setup besides its cells: name and value.

use crate::record::{Blades, Entry, Event, Head, LinkSeat, LinkSurvey, Setup};
use jiff::Timestamp;

/// All that is known, in the order in which it is read; nothing stands here without a value.
pub(super) fn facts(setup: &Setup, entries: &[Entry]) -> Vec<(&'static str, String)> {
    let head = &setup.head;
    let said = |text: &Option<String>| text.clone().unwrap_or_default();
    let facts = [
        ("begun", day(setup.started_at)),
        ("closed", setup.closed_at.map(day).unwrap_or_default()),
        ("reason", setup.reason.clone()),
        ("measured by", said(&setup.measured_by)),
        ("checked by", said(&setup.checked_by)),
        ("rotor", rotor(head)),
        ("links", links(head)),
        ("a half-turn", half_turn(head, entries)),
        (
            "blades",
            if setup.blades == Blades::On { "on".to_owned() } else { "off: the clip sat on the grips".to_owned() },
        ),
        ("workshop", setup.temperature.map(|t| format!("{:.1} °C", t.value())).unwrap_or_default()),
        ("sensor", sensors(entries)),
        ("zero", datums(entries)),
        (
            "cautions",
            setup
                .cautions_acknowledged_at
                .map_or_else(|| "not acknowledged".to_owned(), |at| format!("acknowledged {}", day(at))),
        ),
    ];
    facts.into_iter().filter(|(_, value)| !value.is_empty()).collect()
}

fn day(at: Timestamp) -> String {
    at.strftime("%Y-%m-%d %H:%M UTC").to_string()
}

fn rotor(head: &Head) -> String {
    let phase = head.control_phase.degrees_to(2);
    let phase = if phase == 0.0 { String::new() } else { format!(", control phase {phase}°") };
    format!("{} blades, {} seen from above{phase}", head.blades.get(), head.rotation)
}

fn links(head: &Head) -> String {
    let link = &head.link;
    let thread = format!("{:?}", link.thread).replace('_', ".");
    let opposed = if link.turnbuckle { ", opposed threads" } else { "" };
    let seats = if link.seats == LinkSeat::FullTurn { ", seat once per full turn" } else { "" };
    format!("{thread}{opposed}{seats}, on an arm of {} mm", link.pitch_arm().value())
}

/// What a half-turn of a link was seen to do, else what arm and thread make of it.
fn half_turn(head: &Head, entries: &[Entry]) -> String {
    LinkSurvey::as_measured(head, entries).map_or_else(
        || format!("{:.2}° by arm and thread, not measured", LinkSurvey::by_description(head).degrees().abs()),
        |seen| format!("{:.2}° ± {:.2}°, as measured", seen.raises.degrees(), 2.0 * seen.u.degrees()),
    )
}

fn sensors(entries: &[Entry]) -> String {
    let used = entries.iter().filter_map(|entry| match &entry.event {
        Event::Capture(capture) => {
            let sensor = &capture.sensor;
            let made = sensor.calibrated_on.map_or_else(|| "not dated".to_owned(), |on| format!("of {on}"));
            let calibrated = sensor
                .calibration
                .as_ref()
                .map_or_else(|| "not calibrated".to_owned(), |name| format!("calibration {name} {made}"));
            Some(format!("profile {}, {calibrated}", sensor.profile))
        }
        _ => None,
    });
    each_once(used).join("; ")
}

fn datums(entries: &[Entry]) -> String {
    let used = entries.iter().filter_map(|entry| match &entry.event {
        Event::Capture(capture) => Some(capture.datum.figures()),
        _ => None,
    });
    each_once(used).join("; then ")
}

/// Each of these once, in order.
fn each_once(words: impl Iterator<Item = String>) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for word in words {
        if !all.contains(&word) {
            all.push(word);
        }
    }
    all
}
