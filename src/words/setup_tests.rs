//! What is said of a setup, all of it.

use super::*;
use clinoblade_record::{Blades, DatumRef, Interruption};
use clinoblade_rotor::{Axis, Datum, Deflection};
use jiff::Timestamp;
use uuid::Uuid;

fn setup(cautions_acknowledged_at: Option<Timestamp>) -> Setup {
    Setup {
        id: Uuid::nil(),
        number: 4,
        head: Head::from_toml(&Head::template("Trainer")).unwrap(),
        started_at: Timestamp::UNIX_EPOCH,
        closed_at: None,
        reason: "new links".to_owned(),
        blades: Blades::On,
        temperature: None,
        measured_by: None,
        checked_by: None,
        cautions_acknowledged_at,
        amendments: Vec::new(),
        edited: false,
    }
}

fn events() -> Vec<Entry> {
    let right = Deflection::new(Axis::Rudder, "right").unwrap();
    let adjustment = "link B, +1 half-turn".parse().unwrap();
    let datum = DatumRef {
        id: Uuid::nil(),
        set_at: Timestamp::UNIX_EPOCH,
        datum: Datum::Gravity,
        temperature: None,
        seat: None,
        carrier: None,
    };
    let pause = Interruption { model_moved: true, clip_taken_off: false, sensor_changed: false };
    let events = [
        Event::Datum { datum },
        Event::Adjustment { adjustment, note: None },
        Event::Adjustment { adjustment, note: Some("by ear".to_owned()) },
        Event::Resumed { pause, note: "The zero no longer holds.".to_owned() },
        Event::Recomputed { note: recomputed_with("0.1.0", &["bench"]), captures: Vec::new() },
        Event::Skipped { cell: CellName::Limit(right), reason: "the tail belt is off".to_owned() },
        Event::Withdrawn { capture: Uuid::nil(), reason: "the wrong stick".to_owned() },
    ];
    events.map(|event| Entry { id: Uuid::nil(), at: Timestamp::UNIX_EPOCH, event }).into()
}

#[test]
fn what_the_setup_commands_say() {
    let right = Deflection::new(Axis::Rudder, "right").unwrap();
    let (read, unread) = (setup(Some(Timestamp::UNIX_EPOCH)), setup(None));
    let summary = |closed: bool, imported: bool| SetupSummary {
        number: 4,
        head: "Trainer".to_owned(),
        reason: "new links".to_owned(),
        started_at: Timestamp::UNIX_EPOCH,
        changed_at: Timestamp::UNIX_EPOCH,
        closed_at: closed.then_some(Timestamp::UNIX_EPOCH),
        imported_at: imported.then_some(Timestamp::UNIX_EPOCH),
        entries: 12,
        captures: 9,
    };
    let came = |was_here, edited| Imported {
        setup: 4,
        id: Uuid::nil(),
        head: "Trainer".to_owned(),
        entries: 12,
        was_here,
        edited,
    };
    let at = Timestamp::UNIX_EPOCH;
    let replaced = [
        Replaced::CheckedBy("bench two".to_owned()),
        Replaced::MeasuredBy("bench one".to_owned()),
        Replaced::Temperature(clinoblade_units::Celsius::new(18.5)),
        Replaced::Reason("old links".to_owned()),
        Replaced::Blades(Blades::Off),
    ];
    let amendments = replaced.map(|replaced| Amendment { at, replaced }).into();
    let changed = Setup { amendments, edited: true, ..setup(None) };
    let file = Path::new("trainer.json");
    let outcome = "All 11 captured.";
    let said = [
        cautions(),
        begun(&read),
        begun(&unread),
        list(&[listed(&summary(false, false), false), listed(&summary(true, false), false)]),
        list(&[
            listed(&summary(false, true), false),
            listed(&summary(false, true), true),
            listed(&summary(true, true), false),
        ]),
        list(&[]),
        happened(&read, &events()),
        happened(&changed, &[]),
        resumed(&read, &["The zero no longer holds.".to_owned()]),
        not_a_capture(5),
        withdrawn("elevator up on blade A", outcome),
        no_cell(CellName::Limit(right)),
        not_owed(CellName::Limit(right)),
        skipped(CellName::Limit(right), "the tail belt is off", outcome),
        closed(4, outcome),
        amended(&read, []),
        amended(&read, [("reason", Some("new links"), Some("new servo")), ("checked by", None, Some("bench two"))]),
        exported(&SetupDocument::new(setup(None), Vec::new()), file),
        schema_written(file),
        imported(file, &came(false, false)),
        imported(file, &came(false, true)),
        imported(file, &came(true, false)),
        head_written(Path::new("trainer.toml")),
        not_a_datum(file, "missing field `kind`"),
        no_calibration("bench"),
        recomputed_with("0.1.0", &[]),
        recomputed(&[], &[], false, false),
    ];
    insta::assert_snapshot!(said.join("\n\n"));
}

#[test]
fn old_beside_new() {
    let moved =
        |new| Moved {
            name: "elevator up".to_owned(), old: "+11.86° ± 0.14°".to_owned(), new, remark: String::new()
        };
    let new = moved(Ok(("+11.80° ± 0.13°".to_owned(), Angle::from_degrees(-0.06))));
    let kept = Moved { remark: "inside, now undecided".to_owned(), ..new.clone() };
    let rows = [new, moved(Err(no_calibration("bench")))];
    let said = [recomputed(&rows, &[kept], true, true), recomputed(&rows, &[], false, false)];
    insta::assert_snapshot!(said.join("\n\n"));
}

#[test]
fn what_a_description_means() {
    let head_of = Head::from_toml(&Head::template("Trainer")).unwrap();
    insta::assert_snapshot!(head(&head_of));
}
