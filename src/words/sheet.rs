//! What stands on a setup sheet besides the record's own sentences: facts, the pilot's card, what was left out.

use super::{Face, Say, one_line, record, size, wanted, with_uncertainty};
use clinoblade_record::trade::SWEPT;
use clinoblade_record::{
    Adjustment, Advised, Blades, Cell, CellChange, CellName, Entry, Event, Head, LimitRecord, LinkSeat, LinkSurvey,
    Reach, Setup, SweptEnd, Verdict,
};
use clinoblade_rotor::BladeName;
use jiff::Timestamp;

/// What stands on every sheet.
pub const NO_CERTIFICATE: &str = "This sheet says what was measured. It certifies nothing: the model's own manual, the \
controller's manual and the national rules override every number on it.";

/// What the pilot does before and on the first flight. (Common practice, no source.)
pub const FIRST_FLIGHT: [&str; 7] = [
    "Clip and cable are off the model; every link that was turned is snapped on and moves freely.",
    "The stabilising controller is out of its setup mode, and its own limits are as it was told.",
    "Motor still disconnected: every stick once more, each surface the right way, nothing buzzing at an end.",
    "The tail answers a turn by hand the right way.",
    "Blade bolts, main and tail, as the model's manual says; nothing in the disc, nobody in its plane.",
    "First run-up short and at a distance: vibration or a split in the blades' track ends it.",
    "After the first flight: links, bolts and temperatures, then the record is compared.",
];

/// Where the rest is of what two pages do not hold.
pub const ELSEWHERE: &str = "in the JSON document of this sheet";

/// No cell of two setups can be held against the other's.
pub const NOTHING_COMPARABLE: &str =
    "Nothing can be compared: no cell holds values in both setups that were read in the same way.";

/// Nothing has changed since the setup with which this one is compared.
pub const UNCHANGED: &str = "Nothing beyond its uncertainty.";

/// The title of what did otherwise than recorded in the sweep.
pub const SWEPT_OTHERWISE: &str = "Sweep, otherwise than recorded";

/// The title of what the pilot looks at.
pub const BEFORE_FLIGHT: &str = "Before and on the first flight";

/// Short words for many cells of one verdict.
pub const NOT_AS_WANTED: &str = "not as wanted";
/// The same for undecided cells.
pub const CANNOT_SAY: &str = "nobody can say yet";
/// The same for bound cells.
pub const DO_NOT_RAISE: &str = "do not raise their end points";

/// The title of the picture round the turn, and what is along it.
pub const ROUND_THE_TURN: &str = "Apparent pitch round the turn";
/// What is along it.
pub const AZIMUTH: &str = "azimuth from the boom in the direction of rotation, degrees";
/// The title of the noise over averaging time.
pub const ALLAN: &str = "Allan deviation of the angle";
/// What stands beside the collective's picture.
pub const FROM_MID_STICK: &str = "pitch from mid stick, degrees";

/// The title of the collective's picture.
#[must_use]
pub fn collective(head: &str, blade: BladeName) -> String {
    format!("{head}: pitch against collective stick, blade {blade}")
}

/// Where a sheet was written.
#[must_use]
pub fn written(setup: u32, path: &str) -> String {
    format!("Sheet of setup {setup} written to {path}.")
}

/// A name whose ending says no format.
#[must_use]
pub fn unknown_ending(path: &str) -> String {
    format!("{path}: use a name that ends in .html, .txt or .json")
}

/// A cell that is not as it should be: what it is, and what is wanted.
#[must_use]
pub fn outside(cell: &Cell) -> String {
    let value = Some(record::judged(cell)).filter(|value| !value.is_empty());
    let value = value.map_or_else(String::new, |value| format!(" {value},"));
    format!("{}:{value} wanted {}", cell.name, wanted(cell.target))
}

/// A cell that nobody can decide yet: what is open about it.
#[must_use]
pub fn undecided(cell: &Cell) -> String {
    let open = match cell.name {
        CellName::Corner(_) => "short of the sum of its parts, and nobody has said whether it binds",
        _ if matches!(cell.verdict, Verdict::InQuestion { .. }) => "in question until it is captured again",
        _ if cell.question.is_some() => "it moved otherwise than expected, and nobody has answered for it",
        _ => "too uncertain to tell",
    };
    format!("{}: {open}", outside(cell))
}

/// A direction that did otherwise than recorded when it was swept.
#[must_use]
pub fn moved(end: &SweptEnd) -> Option<String> {
    let (deflection, reached) = (end.deflection, format!("{:.1}°", end.reached.degrees()));
    let recorded = end.recorded.map_or_else(String::new, |recorded| format!(", recorded {:.1}°", recorded.degrees()));
    if end.buzzes {
        return Some(format!("{deflection}: a servo buzzes at its end{recorded}"));
    }
    match end.reach {
        Reach::StandsStill => Some(format!("{deflection}: does not move{recorded}")),
        Reach::Short => Some(format!("{deflection}: reaches only {reached}{recorded}")),
        Reach::Beyond => Some(format!("{deflection}: goes on to {reached}{recorded}")),
        Reach::AsRecorded | Reach::NotRecorded => None,
    }
}

/// A cell in which no value holds.
#[must_use]
pub fn unknown(cell: &Cell) -> String {
    let note = cell.left_out.as_deref().map_or_else(String::new, |note| format!(", left out: {}", one_line(note)));
    format!("{}: {}{note}", cell.name, cell.verdict.word())
}

/// A cell that has changed.
#[must_use]
pub fn changed(cell: &CellChange) -> Option<String> {
    let (difference, expanded) = (cell.difference?, cell.expanded?);
    let now = with_uncertainty(cell.second?, cell.second_expanded?);
    Some(format!("{}: {}, now {now}", cell.cell, with_uncertainty(difference, expanded)))
}

/// What was turned, whether it had been advised, and the note with it.
#[must_use]
pub fn turned(adjustment: &Adjustment, note: Option<&str>, advised: Option<&Advised>) -> String {
    let note = note.map_or_else(String::new, |note| format!(" ({})", one_line(note)));
    let advised = advised.map_or_else(String::new, |advised| format!(", {}", advised.say(Face::Paper)));
    format!("{adjustment}{advised}{note}")
}

/// What nobody owes a record, and is told where it was not measured.
const BESIDES: [&str; 4] = ["corners", "lost motion", "bend of the spindle", "pull of the cable"];

const fn besides(name: CellName) -> Option<usize> {
    match name {
        CellName::Corner(_) => Some(0),
        CellName::Slop(_) => Some(1),
        CellName::Spindle(_) => Some(2),
        CellName::Cable => Some(3),
        CellName::Zero(_)
        | CellName::Track(_)
        | CellName::Droop(_)
        | CellName::Limit(_)
        | CellName::SwashLevel
        | CellName::TailNeutral
        | CellName::TailSplit => None,
    }
}

/// What was not measured, and what was left out and why.
#[must_use]
pub fn not_measured(limits: &LimitRecord) -> Vec<String> {
    let stale_corner = |cell: &Cell| matches!((&cell.verdict, cell.name), (Verdict::Stale { .. }, CellName::Corner(_)));
    let asked = |cell: &&Cell| cell.is_owed() || cell.left_out.is_some() || stale_corner(cell);
    let owed = limits.cells.iter().filter(asked).filter(|cell| !cell.verdict.is_captured());
    let owed = owed.map(|cell| match (&cell.verdict, cell.name) {
        (_, name) if cell.left_out.is_some() => {
            format!("{name}, left out: {}", one_line(cell.left_out.as_deref().unwrap_or_default()))
        }
        (Verdict::Stale { .. }, name) => format!("{name} (before something was turned)"),
        (Verdict::InQuestion { .. }, name) => format!("{name} (in question)"),
        (_, name) => name.to_string(),
    });
    // What is owed stands above by its own name.
    let told = |cell: &&Cell| cell.value.is_some() || cell.owed;
    let filled: Vec<usize> = limits.cells.iter().filter(told).filter_map(|cell| besides(cell.name)).collect();
    let besides = BESIDES.iter().enumerate().filter(|(at, _)| !filled.contains(at)).map(|(_, what)| (*what).to_owned());
    let moved = |axis: &_| limits.swept.iter().any(|end| end.deflection.axis() == *axis);
    let still: Vec<String> = SWEPT.iter().filter(|axis| !moved(axis)).map(ToString::to_string).collect();
    let still = (!still.is_empty()).then(|| format!("sweep: {}", still.join(", ")));
    owed.chain(besides).chain(still).collect()
}

/// All that is known, in the order in which it is read; nothing stands here without a value.
#[must_use]
pub fn facts(setup: &Setup, entries: &[Entry]) -> Vec<(&'static str, String)> {
    let head = &setup.head;
    let said = |text: &Option<String>| one_line(text.as_deref().unwrap_or_default()).into_owned();
    let facts = [
        ("begun", day(setup.started_at)),
        ("closed", setup.closed_at.map(day).unwrap_or_default()),
        ("reason", one_line(&setup.reason).into_owned()),
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
    let seats = if link.seats == LinkSeat::FullTurn && !link.turnbuckle { ", seat once per full turn" } else { "" };
    format!("{thread}{opposed}{seats}, on an arm of {} mm", link.pitch_arm().value())
}

/// What a half-turn of a link was seen to do, else what arm and thread make of it.
fn half_turn(head: &Head, entries: &[Entry]) -> String {
    LinkSurvey::as_measured(head, entries).map_or_else(
        || format!("{:.2}° by arm and thread, not measured", LinkSurvey::by_description(head).degrees().abs()),
        |seen| format!("{}, as measured", size(seen.raises, seen.u * 2.0)),
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
                .map_or_else(|| "not calibrated".to_owned(), |name| format!("calibration {} {made}", one_line(name)));
            Some(format!("profile {}, {calibrated}", one_line(&sensor.profile)))
        }
        _ => None,
    });
    each_once(used).join("; ")
}

fn datums(entries: &[Entry]) -> String {
    let used = entries.iter().filter_map(|entry| match &entry.event {
        Event::Capture(capture) => Some(record::datum(&capture.datum)),
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
