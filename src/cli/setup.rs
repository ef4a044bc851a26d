//! `setup`: one measured setup in the logbook: begun, listed, shown, taken up again, closed.

use super::setting::setup as find;
use super::source::{existing, location, logbook, read_calibration};
use super::{CliError, Common, Outcome, Output};
use crate::cli::parsed;
use crate::logbook::{NewSetup, SavedDefault, SetupSummary};
use crate::record::trade::Caution;
use crate::record::{Blades, Calibrated, CellName, Entry, Event, Finding, Head, Interruption, Pause, Setup};
use crate::rotor::{Axis, Deflection};
use crate::sensor::Calibration;
use crate::units::{Celsius, Seconds};
use crate::words::record::outcome;
use crate::words::{self, Face, Say};
use jiff::Timestamp;
use std::path::PathBuf;

/// Arguments of `setup`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    /// Begin a setup; the other commands work on it from then on
    #[command(after_help = "\
Examples:
  clinoblade setup new --head trainer.toml --reason \"new links\"
  clinoblade setup new --head trainer.toml --blades off --temperature 19.5 --measured-by \"first bench\"")]
    New(Box<New>),
    /// List the setups, newest first
    List {
        /// Only those of this head
        #[arg(long, value_name = "NAME")]
        head: Option<String>,

        /// At most so many
        #[arg(long, value_name = "N", default_value_t = 20)]
        most: u32,
    },
    /// Show one setup with everything that happened in it
    Show {
        /// Its number, else the open one
        number: Option<u32>,
    },
    /// Take a setup up again after hours or a move: says what of datum and calibration still holds
    #[command(after_help = "\
Examples:
  clinoblade setup resume --temperature 17
  clinoblade setup resume 4 --moved --clip-off")]
    Resume(Box<Resume>),
    /// Add to what is said of a setup, or put it right: who checked, who measured, the temperature, why
    #[command(after_help = "\
Examples:
  clinoblade setup amend --checked-by \"second bench\"
  clinoblade setup amend 4 --temperature 17 --measured-by \"first bench\"
  clinoblade setup amend --cautions-read

Once a setup is closed, who has checked it can still be added, and nothing else: `setup resume` opens it again.")]
    Amend(Box<super::amend::Args>),
    /// Read the captures anew from their raw samples: today's filter, a chosen calibration, old beside new
    Recompute(Box<super::recompute::Args>),
    /// Take a capture back that was wrong: it counts no longer, and stays to be seen
    #[command(after_help = "\
Examples:
  clinoblade setup withdraw                                   the latest capture
  clinoblade setup withdraw 12 --because \"the wrong stick\"    entry 12, as `setup show` numbers them")]
    Withdraw {
        /// The entry's number, else the latest capture that counts
        entry: Option<usize>,

        /// Why
        #[arg(long, value_name = "TEXT", default_value = "it was wrong")]
        because: String,

        /// Of this setup instead of the open one
        #[arg(long, value_name = "NUMBER")]
        setup: Option<u32>,
    },
    /// Leave a direction out on purpose, and say why: the record and the sheet keep the reason
    #[command(after_help = "\
Example:
  clinoblade setup skip rudder right --because \"the tail belt is off\"

A capture of it later takes its place.")]
    Skip {
        /// elevator, aileron, rudder or collective
        #[arg(value_parser = parsed::<Axis>)]
        axis: Axis,

        /// up or down, left or right, low or high
        direction: String,

        /// Why
        #[arg(long, value_name = "TEXT")]
        because: String,

        /// Of this setup instead of the open one
        #[arg(long, value_name = "NUMBER")]
        setup: Option<u32>,
    },
    /// Close a setup: nothing is added to it any more
    Close {
        /// Its number, else the open one
        number: Option<u32>,
    },
}

#[derive(Debug, clap::Args)]
struct New {
    /// The head's description
    #[arg(long, value_name = "FILE")]
    head: Option<PathBuf>,

    /// Why the head is set up
    #[arg(long, default_value = "")]
    reason: String,

    /// Whether the main blades are fitted: on or off
    #[arg(long, default_value = "on", value_parser = blades)]
    blades: Blades,

    /// Temperature in the workshop, °C
    #[arg(long, value_name = "CELSIUS", allow_negative_numbers = true)]
    temperature: Option<f64>,

    /// Who measures
    #[arg(long, value_name = "WHO")]
    measured_by: Option<String>,

    /// Who checks
    #[arg(long, value_name = "WHO")]
    checked_by: Option<String>,

    /// The cautions have been read and hold
    #[arg(long)]
    cautions_read: bool,
}

#[derive(Debug, clap::Args)]
struct Resume {
    /// Its number, else the open one
    number: Option<u32>,

    /// The model was moved, or may have been
    #[arg(long)]
    moved: bool,

    /// The clip was taken off the blade
    #[arg(long)]
    clip_off: bool,

    /// Another sensor is used now
    #[arg(long)]
    other_sensor: bool,

    /// The sensor's temperature now, °C
    #[arg(long, value_name = "CELSIUS", allow_negative_numbers = true)]
    temperature: Option<f64>,

    /// The sensor's calibration, instead of the saved one
    #[arg(long, value_name = "FILE")]
    calibration: Option<PathBuf>,
}

pub(super) fn blades(text: &str) -> Result<Blades, String> {
    match text {
        "on" => Ok(Blades::On),
        "off" => Ok(Blades::Off),
        _ => Err("write on or off".to_owned()),
    }
}

/// Begins, lists, shows, takes up or closes.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    match args.command {
        Command::New(new) => begin(*new, common, output).await?,
        Command::List { head, most } => list(head.as_deref(), most, common, output).await?,
        Command::Show { number } => show(number, common, output).await?,
        Command::Resume(resume) => return take_up(*resume, common, output).await,
        Command::Amend(amend) => super::amend::run(*amend, common, output).await?,
        Command::Recompute(recompute) => return super::recompute::run(*recompute, common, output).await,
        Command::Withdraw { entry, because, setup } => withdraw(entry, because, setup, common, output).await?,
        Command::Skip { axis, direction, because, setup } => {
            skip(Deflection::new(axis, &direction)?, because, setup, common, output).await?;
        }
        Command::Close { number } => close(number, common, output).await?,
    }
    Ok(Outcome::Done)
}

async fn begin(new: New, common: &Common, output: &Output) -> Result<(), CliError> {
    let logbook = logbook(common).await?;
    let path = match &new.head {
        Some(path) => path.clone(),
        None => logbook.saved(SavedDefault::Head).await?.map(PathBuf::from).ok_or_else(|| {
            CliError::Use("which helicopter? Name its description with --head FILE; `head new` writes one".into())
        })?,
    };
    let head = Head::from_toml(&super::head::read_file(&path)?)?;
    let acknowledged = new.cautions_read || acknowledge(output).await;
    let absolute = std::path::absolute(&path);
    let absolute = absolute.map_err(CliError::file(&path))?;
    let setup = logbook
        .new_setup(NewSetup {
            reason: new.reason,
            blades: new.blades,
            temperature: new.temperature.map(Celsius::new),
            measured_by: new.measured_by,
            checked_by: new.checked_by,
            cautions_acknowledged_at: acknowledged.then(Timestamp::now),
            ..NewSetup::of(head)
        })
        .await?;
    logbook.save(SavedDefault::Head, Some(&absolute.display().to_string())).await?;
    logbook.close().await;
    output.answer(&setup, &begun(&setup))
}

/// Shows the cautions; true when the person says that they hold.
async fn acknowledge(output: &Output) -> bool {
    if output.is_json() {
        return false;
    }
    let cautions: Vec<String> = Caution::ALL.iter().map(|line| format!("  [ ] {}", line.say(Face::Terminal))).collect();
    let matter = format!("Before the first stick moves:\n{}", cautions.join("\n"));
    output.say(&matter);
    super::question::yes("", "Does every line hold?", output).await
}

fn begun(setup: &Setup) -> String {
    let mut lines = vec![format!("setup {} of {} has begun", setup.number, setup.head.name)];
    if setup.cautions_acknowledged_at.is_none() {
        lines.push(
            "The cautions are not acknowledged: read them before the first stick moves, and then say so (`setup amend --cautions-read`)."
                .to_owned(),
        );
    }
    lines.push("Next: `datum reversal` or `datum gravity`, then `capture collective mid` on every blade.".to_owned());
    lines.join("\n")
}

async fn list(head: Option<&str>, most: u32, common: &Common, output: &Output) -> Result<(), CliError> {
    let Some(logbook) = existing(common).await? else {
        let path = location(common)?.path()?;
        let text = "no logbook yet: begin one with `setup new --head FILE`";
        return output.answer(&serde_json::json!({ "logbook": path, "setups": [] }), text);
    };
    let setups = logbook.setups(head, most).await?;
    let worked_on = match setups.iter().any(|setup| setup.closed_at.is_none() && setup.imported_at.is_some()) {
        true => logbook.open_setup().await.ok().map(|open| open.number),
        false => None,
    };
    let lines: Vec<String> = setups.iter().map(|setup| row(setup, worked_on == Some(setup.number))).collect();
    let text = if lines.is_empty() {
        "the logbook holds no setup yet: begin one with `setup new --head FILE`".to_owned()
    } else {
        lines.join("\n")
    };
    output.answer(&serde_json::json!({ "logbook": logbook.place(), "setups": setups }), &text)
}

fn row(setup: &SetupSummary, taken_up: bool) -> String {
    format!(
        "{:>5}  {}  {:<24} {:>3} captures  {}  {}",
        setup.number,
        setup.started_at.strftime("%Y-%m-%d %H:%M UTC"),
        setup.head,
        setup.captures,
        match (setup.closed_at, setup.imported_at) {
            (Some(_), None) => "closed          ",
            (Some(_), Some(_)) => "closed, imported",
            (None, None) => "open            ",
            // Commands work on one that came from elsewhere only once it was taken up again.
            (None, Some(_)) if taken_up => "open, imported  ",
            (None, Some(_)) => "imported        ",
        },
        setup.reason
    )
}

async fn show(number: Option<u32>, common: &Common, output: &Output) -> Result<(), CliError> {
    let open = find(number, common).await?;
    let record = open.record();
    let mut lines = vec![format!("Setup {} of {}", open.setup().number, open.setup().head.name)];
    lines.extend(
        open.entries().iter().enumerate().map(|(k, entry)| format!("{:>4}  {}  {}", k + 1, time(entry), told(entry))),
    );
    lines.push(String::new());
    lines.push(words::table::text(&record, Face::Terminal));
    let waiting = open.logbook().waiting()?;
    lines.extend(super::error::waits(waiting));
    let document = serde_json::json!({ "setup": open.setup(), "entries": open.entries(), "record": words::record::document(&record), "waiting": waiting });
    output.answer(&document, &lines.join("\n"))
}

fn time(entry: &Entry) -> String {
    entry.at.strftime("%Y-%m-%d %H:%M:%S UTC").to_string()
}

fn told(entry: &Entry) -> String {
    match &entry.event {
        Event::Capture(capture) => format!("{}: read {}", capture.subject, super::document::value(&capture.reading)),
        Event::Adjustment { adjustment, note } => match note {
            Some(note) => format!("turned: {adjustment} ({note})"),
            None => format!("turned: {adjustment}"),
        },
        Event::Datum { datum } => format!("datum {} set", datum.kind()),
        Event::Resumed { note, .. } => format!("taken up again: {note}"),
        Event::Recomputed { note, captures } => format!("{} captures read anew: {note}", captures.len()),
        Event::Spindle { check } => format!("spindle of blade {}: bent by {}", check.blade, check.bend()),
        Event::Skipped { deflection, reason } => format!("left out: {deflection} ({reason})"),
        Event::Cable { check } => format!("cable on blade {}: pulls by {}", check.blade, check.pull()),
        Event::Swept { sweep } => {
            let reached = sweep.ends.iter().map(|end| format!("{} {}", end.deflection, end.reached()));
            format!("moved once more: {}", reached.collect::<Vec<_>>().join(", "))
        }
        Event::Withdrawn { reason, .. } => format!("the capture before was taken back: {reason}"),
    }
}

async fn take_up(args: Resume, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let mut open = find(args.number, common).await?;
    let saved = open.logbook().saved(SavedDefault::Calibration).await?.map(PathBuf::from);
    let calibration = args.calibration.or(saved).map(|path| read_calibration(&path)).transpose()?;
    let now = Timestamp::now();
    let datum = open.newest_datum();
    let before = open.captures().next_back().and_then(|capture| capture.reading.temperature);
    let pause = Pause {
        datum,
        datum_age: seconds(now, datum.set_at),
        calibration: calibration.as_ref().map_or(Calibrated::Never, |calibration| calibrated(calibration, now)),
        temperature_change: args.temperature.map(Celsius::new).zip(before).map(|(now, then)| now - then),
        model_moved: args.moved,
        clip_taken_off: args.clip_off,
        sensor_changed: args.other_sensor,
    };
    let interruption =
        Interruption { model_moved: args.moved, clip_taken_off: args.clip_off, sensor_changed: args.other_sensor };
    let findings = pause.judge();
    let said = |face| findings.iter().map(|finding| finding.say(face)).collect::<Vec<String>>();
    let lines = said(Face::Terminal);
    let worked_on = open.logbook().open_setup().await.ok().map(|setup| setup.number);
    if open.setup().closed_at.is_some() || worked_on != Some(open.setup().number) {
        open.logbook().reopen_setup(open.setup().number).await?;
    }
    open.happened(Event::Resumed { pause: interruption, note: said(Face::Paper).join(" ") }).await?;
    let go_on = pause.can_go_on();
    let text =
        format!("setup {} of {} is taken up again\n{}", open.setup().number, open.setup().head.name, lines.join("\n"));
    let document = serde_json::json!({ "setup": open.setup().number, "can_go_on": go_on, "findings": findings.iter().zip(&lines).map(|(finding, sentence)| Found { finding, holds: finding.holds(), sentence }).collect::<Vec<_>>() });
    output.answer(&document, &text)?;
    Ok(if go_on { Outcome::Done } else { Outcome::SaysNo })
}

#[derive(serde::Serialize)]
struct Found<'a> {
    #[serde(flatten)]
    finding: &'a Finding,
    holds: bool,
    sentence: &'a str,
}

/// How long ago a calibration was made, where it says so.
fn calibrated(calibration: &Calibration, now: Timestamp) -> Calibrated {
    let midnight = |date: jiff::civil::Date| jiff::tz::TimeZone::UTC.to_timestamp(date.at(0, 0, 0, 0)).ok();
    let made_at = calibration.made_on.and_then(midnight);
    made_at.map_or(Calibrated::Undated, |made| Calibrated::Ago(seconds(now, made)))
}

/// From `then` to `now`; a clock that was set back makes no negative age.
fn seconds(now: Timestamp, then: Timestamp) -> Seconds {
    Seconds::new(now.duration_since(then).as_secs_f64().max(0.0))
}

async fn withdraw(
    entry: Option<usize>,
    reason: String,
    setup: Option<u32>,
    common: &Common,
    output: &Output,
) -> Result<(), CliError> {
    let mut open = super::setting::setup_to_write(setup, common).await?;
    let gone = |id| {
        let taken_back = |e: &Entry| matches!(&e.event, Event::Withdrawn { capture, .. } if *capture == id);
        open.entries().iter().any(taken_back)
    };
    let counts = |e: &&Entry| matches!(e.event, Event::Capture(_)) && !gone(e.id);
    let found = match entry {
        Some(number) => number.checked_sub(1).and_then(|at| open.entries().get(at)).filter(counts),
        None => open.entries().iter().rev().find(counts),
    };
    let Some(Event::Capture(capture)) = found.map(|entry| &entry.event) else {
        let what = entry.map_or_else(
            || "no capture is left to take back".to_owned(),
            |number| format!("entry {number} is no capture that counts: `setup show` numbers the entries"),
        );
        return Err(CliError::Use(what));
    };
    let (id, subject) = (capture.id, capture.subject);
    open.happened(Event::Withdrawn { capture: id, reason }).await?;
    let outcome = outcome(&open.record());
    open.logbook().clone().close().await;
    let document = serde_json::json!({ "setup": open.setup().number, "capture": id, "subject": subject });
    output.answer(&document, &format!("taken back: {subject}. {outcome}"))
}

async fn skip(
    deflection: Deflection,
    reason: String,
    setup: Option<u32>,
    common: &Common,
    output: &Output,
) -> Result<(), CliError> {
    if reason.trim().is_empty() {
        return Err(CliError::Use("say why with --because: the pilot reads it on the sheet".to_owned()));
    }
    let mut open = super::setting::setup_to_write(setup, common).await?;
    if deflection.is_neutral() || open.record().cell(CellName::Limit(deflection)).is_none() {
        let what = format!("{deflection} is no cell of this record: name an end that the head's description wants");
        return Err(CliError::Use(what));
    }
    open.happened(Event::Skipped { deflection, reason: reason.clone() }).await?;
    let outcome = outcome(&open.record());
    open.logbook().clone().close().await;
    let document =
        serde_json::json!({ "setup": open.setup().number, "left_out": deflection.to_string(), "because": reason });
    output.answer(&document, &format!("left out: {deflection} ({reason}). {outcome}"))
}

async fn close(number: Option<u32>, common: &Common, output: &Output) -> Result<(), CliError> {
    let open = find(number, common).await?;
    let record = open.record();
    let setup = open.logbook().close_setup(open.setup().number, Timestamp::now()).await?;
    output.answer(&setup, &format!("setup {} is closed. {}", setup.number, outcome(&record)))
}
