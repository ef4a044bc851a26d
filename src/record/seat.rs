//! The seats of the clips: readings with one seat's number were taken without moving the clip.

use super::capture::DatumRef;
use super::setup::{Entry, Event};
use crate::rotor::{Carrier, Datum, Place, Spot};

/// The seat of the next reading with the sensor of `carrier`, after these entries: the one it has, where its clip was left
/// alone since, else a number that no seat has had; 1 for the first.
#[must_use]
pub fn next_seat(entries: &[Entry], carrier: Option<Carrier>, at: Place, seated_again: bool) -> u32 {
    let last = entries.iter().rposition(|entry| sat(&entry.event, carrier).is_some());
    let since = entries.get(last.map_or(0, |at| at + 1)..).unwrap_or_default();
    let moved = seated_again || since.iter().any(|entry| is_taken_off(&entry.event, carrier));
    let seat = last.and_then(|at| sat(&entries[at].event, carrier));
    match seat.filter(|(_, place)| !moved && is_at(*place, at)) {
        Some((seat, _)) => seat,
        None => unused(entries),
    }
}

/// A number that no seat has had.
fn unused(entries: &[Entry]) -> u32 {
    let had = || entries.iter().filter_map(|entry| seat_of(&entry.event));
    let next = had().max().unwrap_or(0).checked_add(1);
    // A document from elsewhere may have used the last number there is.
    next.or_else(|| (1..=u32::MAX).find(|number| had().all(|seat| seat != *number))).unwrap_or(u32::MAX)
}

/// Where this sensor's clip sat, and the number of that seat. A neutral that was set as zero was read as the clip sat.
fn sat(event: &Event, carrier: Option<Carrier>) -> Option<(u32, Place)> {
    match event {
        Event::Capture(capture) if capture.sensor.carrier == carrier => {
            Some((capture.seat, capture.subject.place(capture.clip)))
        }
        Event::Datum {
            datum: DatumRef { datum: Datum::Neutral { place, .. }, seat: Some(seat), carrier: whose, .. },
        } if *whose == carrier => Some((*seat, *place)),
        _ => None,
    }
}

fn seat_of(event: &Event) -> Option<u32> {
    match event {
        Event::Capture(capture) => Some(capture.seat),
        Event::Datum { datum } => datum.seat,
        _ => None,
    }
}

/// Whether a reading of the one sensor may have been one of the other: who names no blade may have used any of them.
fn may_be(one: Option<Carrier>, other: Option<Carrier>) -> bool {
    one == other || one.is_none() || other.is_none()
}

/// Whether the clip came off its blade, or may have.
fn is_taken_off(event: &Event, carrier: Option<Carrier>) -> bool {
    match event {
        Event::Resumed { pause, .. } => pause.clip_taken_off || pause.sensor_changed,
        // On a surface the sensor lies, or is turned end for end: it was off the blade.
        Event::Datum { datum } => {
            may_be(datum.carrier, carrier) && matches!(datum.datum, Datum::Surface { .. } | Datum::Reversal { .. })
        }
        Event::Capture(capture) => capture.sensor.carrier != carrier && may_be(capture.sensor.carrier, carrier),
        _ => false,
    }
}

/// Whether a clip that sits here need not be moved for a reading there.
fn is_at(here: Place, there: Place) -> bool {
    let rotor = |place: Place| (place.blade, matches!(place.spot, Spot::Main(_)), place.clip);
    rotor(here) == rotor(there)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rotor::{Clip, LeadingEdge};
    use crate::units::Angle;
    use crate::{Capture, Interruption, Subject};
    use jiff::Timestamp;
    use uuid::Uuid;

    fn at(on: &str, clip: Clip) -> Place {
        Place { blade: on.parse().unwrap(), spot: Spot::Main("90".parse().unwrap()), clip }
    }

    fn carrier(on: &str) -> Option<Carrier> {
        Some(on.parse().unwrap())
    }

    fn entry(event: Event) -> Entry {
        Entry { id: Uuid::nil(), at: Timestamp::UNIX_EPOCH, event }
    }

    fn captured(on: &str, seat: u32, carrier: Option<Carrier>) -> Entry {
        let mut capture: Capture = serde_json::from_value(serde_json::json!({
            "id": Uuid::nil(), "taken_at": "2026-11-25T10:00:00Z",
            "axis": "elevator", "direction": "up", "blade": "A", "station_deg": 90.0,
            "clip": "forward", "seat": 4, "stick_percent": 100.0, "limited_by": "end_point", "approach": null,
            "angle_deg": 8.0, "apparent_pitch_deg": 8.0, "span_inclination_deg": 0.0,
            "up_g": {"span": 0.0, "chord": 0.139, "normal": 0.990}, "budget": [],
            "samples": 100, "effective_samples": 90.0, "dropped_samples": 0, "damaged_frames": 0, "lost_samples": 0,
            "settled_at_s": 1.0, "finished_at_s": 2.0, "steady": true, "ended_by": "want", "observability": 1.0,
            "temperature_c": null,
            "datum": {"id": Uuid::nil(), "set_at": "2026-11-25T09:00:00Z", "kind": "gravity"},
            "sensor": {"profile": "sentence", "port": "bench", "calibration": null},
        }))
        .unwrap();
        capture.subject =
            Subject::new("elevator down".parse().unwrap(), on.parse().unwrap(), Spot::Main("90".parse().unwrap()))
                .unwrap();
        (capture.seat, capture.sensor.carrier) = (seat, carrier);
        entry(Event::Capture(Box::new(capture)))
    }

    fn set(datum: Datum, seat: Option<u32>, carrier: Option<Carrier>) -> Entry {
        let (id, set_at) = (Uuid::nil(), Timestamp::UNIX_EPOCH);
        entry(Event::Datum { datum: DatumRef { id, set_at, datum, temperature: None, seat, carrier } })
    }

    fn neutral_on(on: &str) -> Datum {
        let place = at(on, Clip::Forward);
        Datum::Neutral { apparent: Angle::ZERO, place, u: Angle::ZERO }
    }

    #[test]
    fn the_seat_changes_with_the_blade_the_clips_way_and_at_the_persons_word() {
        let first = [captured("A", 4, None)];
        let next = |place, again| next_seat(&first, None, place, again);
        assert_eq!(next_seat(&[], None, at("A", Clip::Forward), false), 1);
        let last = [captured("A", u32::MAX, None), captured("A", 1, None)];
        assert_eq!(next_seat(&last, None, at("B", Clip::Forward), false), 2);
        assert_eq!(next(at("A", Clip::Forward), false), 4);
        assert_eq!(next(at("B", Clip::Forward), false), 5);
        assert_eq!(next(at("A", Clip::Reversed), false), 5);
        assert_eq!(next(at("A", Clip::Forward), true), 5);
        // Blade A of the tail is another blade.
        assert_eq!(next(Place { spot: Spot::Tail(LeadingEdge::Up), ..at("A", Clip::Forward) }, false), 5);
    }

    #[test]
    fn a_pause_with_the_clip_off_and_a_reversal_are_seats_anew() {
        let pause = Interruption { clip_taken_off: true, ..Interruption::default() };
        let resumed = |pause| entry(Event::Resumed { pause, note: String::new() });
        let surface = Datum::Surface {
            up: crate::rotor::up_from_reading(Angle::ZERO, Angle::ZERO),
            heading: "0".parse().unwrap(),
            instrument: None,
            u: Angle::ZERO,
        };
        for (between, seat) in [
            (resumed(pause), 2),
            (resumed(Interruption::default()), 1),
            (set(surface, None, None), 2),
            (set(Datum::Gravity, None, None), 1),
        ] {
            let entries = [captured("A", 1, None), between];
            assert_eq!(next_seat(&entries, None, at("A", Clip::Forward), false), seat, "{:?}", entries[1].event);
        }
    }

    #[test]
    fn a_neutral_that_was_set_as_zero_holds_its_seat_until_the_clip_is_moved() {
        let entries = [set(neutral_on("A"), Some(1), None)];
        let next = |on, again| next_seat(&entries, None, at(on, Clip::Forward), again);
        assert_eq!((next("A", false), next("A", true), next("B", false)), (1, 2, 2));
    }

    #[test]
    fn a_sensor_that_stays_on_its_blade_keeps_its_seat_while_others_are_read() {
        let before = [captured("A", 1, carrier("A")), captured("B", 2, carrier("B"))];
        let next = |of: &str, on: &str, again| next_seat(&before, carrier(of), at(on, Clip::Forward), again);
        assert_eq!((next("A", "A", false), next("B", "B", false)), (1, 2));
        // Another sensor on the table leaves this one on its blade.
        let surface = Datum::Surface {
            up: crate::rotor::up_from_reading(Angle::ZERO, Angle::ZERO),
            heading: "0".parse().unwrap(),
            instrument: None,
            u: Angle::ZERO,
        };
        let then = |event: Entry| {
            let entries = [&before[..], &[event]].concat();
            next_seat(&entries, carrier("A"), at("A", Clip::Forward), false)
        };
        assert_eq!(then(set(surface, None, carrier("B"))), 1);
        // A sensor of which nobody said where it stays may have been this one.
        assert_eq!((then(set(surface, None, None)), then(captured("B", 3, None))), (3, 4));
        // Put on again, it sits as none has sat before.
        assert_eq!((next("A", "A", true), next("A", "B", false)), (3, 3));
    }
}
