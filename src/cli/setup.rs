//! `setup`: one measured setup in the logbook: begun, listed, shown, taken up again, closed.

use super::setting::setup as find;
use super::source::{existing, location, logbook, read_calibration};
use super::{CliError, Common, Outcome, Output};
use crate::bench::{Begun, Resumed, begin as begin_setup, leave_out, resume};
use crate::logbook::{Logbook, LogbookError, NewSetup, SavedDefault};
use crate::record::{Adjustment, Blades, CellName, Entry, Event, Finding, Head, Interruption};
use crate::units::Celsius;
use crate::words::record::outcome;
use crate::words::{Face, Say, record as cells, setup as words, table};
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
    /// Begin a setup; the other commands then work on it
    #[command(after_help = words::NEW_HELP)]
    New(Box<New>),
    /// List the setups, newest first
    List {
        /// Show only those of this helicopter
        #[arg(long, value_name = "NAME")]
        head: Option<String>,

        /// Show at most N setups (newest first)
        #[arg(long, value_name = "N", default_value_t = 20)]
        most: u32,
    },
    /// Show one setup with everything that happened in it
    Show {
        /// Number of the setup [default: the open one]
        number: Option<u32>,
    },
    /// Reopen a setup after a pause or a move; tells which zero and calibration are still valid
    #[command(after_help = words::RESUME_HELP)]
    Resume(Box<Resume>),
    /// Add or correct who checked, who measured, the temperature, the reason
    #[command(after_help = words::AMEND_HELP)]
    Amend(Box<super::amend::Args>),
    /// Recalculate the captures from the raw samples and show old and new
    Recompute(Box<super::recompute::Args>),
    /// Take back a wrong capture, adjustment or skip: it no longer counts, but stays in the list
    #[command(after_help = words::WITHDRAW_HELP)]
    Withdraw {
        /// Number of the entry [default: the latest of them]
        entry: Option<usize>,

        /// Why
        #[arg(long, value_name = "TEXT", default_value = "it was wrong")]
        because: String,

        /// Of this setup instead of the open one
        #[arg(long, value_name = "NUMBER")]
        setup: Option<u32>,
    },
    /// Leave a cell out on purpose; record and sheet keep the note
    #[command(after_help = words::SKIP_HELP)]
    Skip {
        /// The cell, as `check` names it: rudder right, blade B zero
        #[arg(required = true, num_args = 1.., value_name = "CELL")]
        cell: Vec<String>,

        /// Why
        #[arg(long, alias = "reason", value_name = "TEXT")]
        because: String,

        /// Of this setup instead of the open one
        #[arg(long, value_name = "NUMBER")]
        setup: Option<u32>,
    },
    /// Close a setup
    Close {
        /// Number of the setup [default: the open one]
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

    /// What happened before: crash, or parts (replaced); then spindle, droop, lost motion, corners, tail blades and a sweep are owed
    #[arg(long, value_name = "WHAT", value_parser = after)]
    after: Option<Adjustment>,

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

    /// Close the setup that is open
    #[arg(long)]
    close_open: bool,
}

#[derive(Debug, clap::Args)]
struct Resume {
    /// Number of the setup [default: the open one]
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
        _ => Err(words::ON_OR_OFF.to_owned()),
    }
}

fn after(text: &str) -> Result<Adjustment, String> {
    match text {
        "crash" => Ok(Adjustment::Crash),
        "parts" => Ok(Adjustment::Parts),
        _ => Err(words::CRASH_OR_PARTS.to_owned()),
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
        Command::Skip { cell, because, setup } => {
            skip(cell.join(" ").parse()?, because, setup, common, output).await?;
        }
        Command::Close { number } => close(number, common, output).await?,
    }
    Ok(Outcome::Done)
}

async fn begin(new: New, common: &Common, output: &Output) -> Result<(), CliError> {
    let logbook = logbook(common).await?;
    let path = match &new.head {
        Some(path) => path.clone(),
        None => {
            let saved = logbook.saved(SavedDefault::Head).await?.map(PathBuf::from);
            saved.ok_or_else(|| CliError::Use(words::WHICH_HEAD.to_owned()))?
        }
    };
    let head = Head::from_toml(&super::head::read_file(&path)?)?;
    let left_open = left_open(&new, &logbook, output).await?;
    let acknowledged = new.cautions_read || acknowledge(output).await;
    let absolute = std::path::absolute(&path);
    let absolute = absolute.map_err(CliError::file(&path))?;
    let new_setup = NewSetup {
        reason: new.reason,
        blades: new.blades,
        temperature: new.temperature.map(Celsius::new),
        measured_by: new.measured_by,
        checked_by: new.checked_by,
        cautions_acknowledged_at: acknowledged.then(Timestamp::now),
        ..NewSetup::of(head)
    };
    let Begun { open, setup, zero } = begin_setup(&logbook, new_setup, Some(&absolute), left_open, new.after).await?;
    let zero = zero.map(|zero| zero.say(Face::Terminal));
    let mut text: Vec<String> = left_open.into_iter().map(words::closed_for_another).collect();
    text.push(words::begun(&setup));
    text.extend(zero.clone());
    if new.after.is_some() {
        text.push(words::owed_after(&cells::to_measure(&open.record(), Face::Terminal)));
    }
    logbook.close().await;
    let mut document = serde_json::to_value(&setup).map_err(|error| CliError::Use(error.to_string()))?;
    if let (serde_json::Value::Object(fields), Some(said)) = (&mut document, zero) {
        fields.insert("zero".to_owned(), open.newest_datum().kind().into());
        fields.insert("said".to_owned(), said.into());
    }
    output.answer(&document, &text.join("\n"))
}

/// The setup that is open and that the person wants closed.
async fn left_open(new: &New, logbook: &Logbook, output: &Output) -> Result<Option<u32>, CliError> {
    let open = match logbook.open_setup().await {
        Ok(open) => open,
        Err(LogbookError::NoOpenSetup) => return Ok(None),
        Err(error) => return Err(error.into()),
    };
    let matter = words::still_open(&open);
    if new.close_open || super::question::yes(&matter, words::CLOSE_IT, output).await {
        return Ok(Some(open.number));
    }
    let command = std::env::args().skip(1).map(quoted).collect::<Vec<_>>().join(" ");
    Err(CliError::Use(words::close_it_first(&matter, &command)))
}

/// As it is typed into a shell.
fn quoted(word: String) -> String {
    let plain = |mark: char| mark.is_alphanumeric() || "-_./=:,+".contains(mark);
    if !word.is_empty() && word.chars().all(plain) { word } else { format!("'{}'", word.replace('\'', "'\\''")) }
}

/// Shows the cautions; true when the person says that they hold.
async fn acknowledge(output: &Output) -> bool {
    if output.is_json() {
        return false;
    }
    output.say(&words::cautions());
    super::question::yes("", words::ALL_HOLD, output).await
}

async fn list(head: Option<&str>, most: u32, common: &Common, output: &Output) -> Result<(), CliError> {
    let Some(logbook) = existing(common).await? else {
        let path = location(common)?.path()?;
        return output.answer(&serde_json::json!({ "logbook": path, "setups": [] }), words::NO_LOGBOOK);
    };
    let setups = logbook.setups(head, most).await?;
    let worked_on = match setups.iter().any(|setup| setup.closed_at.is_none() && setup.imported_at.is_some()) {
        true => logbook.open_setup().await.ok().map(|open| open.number),
        false => None,
    };
    let lines: Vec<String> = setups.iter().map(|setup| words::listed(setup, worked_on == Some(setup.number))).collect();
    output.answer(&serde_json::json!({ "logbook": logbook.place(), "setups": setups }), &words::list(&lines))
}

async fn show(number: Option<u32>, common: &Common, output: &Output) -> Result<(), CliError> {
    let open = find(number, common).await?;
    let record = open.record();
    let table = table::text(&record, Face::Terminal);
    let mut lines = vec![words::happened(open.setup(), open.entries()), String::new(), table];
    let waiting = open.logbook().waiting()?;
    lines.extend(super::error::waits(waiting));
    let document = serde_json::json!({
        "setup": open.setup(),
        "entries": open.entries(),
        "record": cells::document(&record),
        "waiting": waiting,
    });
    output.answer(&document, &lines.join("\n"))
}

async fn take_up(args: Resume, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let mut open = find(args.number, common).await?;
    let saved = open.logbook().saved(SavedDefault::Calibration).await?.map(PathBuf::from);
    let calibration = args.calibration.or(saved).map(|path| read_calibration(&path)).transpose()?;
    let interruption =
        Interruption { model_moved: args.moved, clip_taken_off: args.clip_off, sensor_changed: args.other_sensor };
    let temperature = args.temperature.map(Celsius::new);
    let Resumed { findings, go_on } = resume(&mut open, interruption, temperature, calibration).await?;
    let lines: Vec<String> = findings.iter().map(|finding| finding.say(Face::Terminal)).collect();
    let found = findings.iter().zip(&lines);
    let found: Vec<Found<'_>> =
        found.map(|(finding, sentence)| Found { finding, holds: finding.holds(), sentence }).collect();
    let document = serde_json::json!({ "setup": open.setup().number, "can_go_on": go_on, "findings": found });
    let text = words::resumed(open.setup(), &lines);
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
    let counts = |e: &&Entry| e.can_be_withdrawn() && !gone(e.id);
    let found = match entry {
        Some(number) => number.checked_sub(1).and_then(|at| open.entries().get(at)).filter(counts),
        None => open.entries().iter().rev().find(counts),
    };
    let Some(found) = found else {
        return Err(CliError::Use(entry.map_or_else(|| words::NONE_TO_WITHDRAW.to_owned(), words::not_a_capture)));
    };
    let id = found.id;
    let mut document = serde_json::json!({ "setup": open.setup().number, "entry": id });
    let (field, what, said) = match &found.event {
        Event::Capture(capture) => ("subject", serde_json::json!(capture.subject), capture.subject.to_string()),
        Event::Adjustment { adjustment, .. } => ("adjustment", serde_json::json!(adjustment), adjustment.to_string()),
        Event::Skipped { cell, .. } => ("left_out", serde_json::json!(cell), cell.to_string()),
        // Nothing else can be withdrawn.
        _ => return Err(CliError::Use(words::NONE_TO_WITHDRAW.to_owned())),
    };
    document[field] = what;
    if field == "subject" {
        document["capture"] = serde_json::json!(id);
    }
    open.happened(Event::Withdrawn { capture: id, reason }).await?;
    let outcome = outcome(&open.record());
    open.logbook().clone().close().await;
    output.answer(&document, &words::withdrawn(said, &outcome))
}

async fn skip(
    cell: CellName,
    reason: String,
    setup: Option<u32>,
    common: &Common,
    output: &Output,
) -> Result<(), CliError> {
    let mut open = super::setting::setup_to_write(setup, common).await?;
    leave_out(&mut open, cell, &reason).await?;
    let outcome = outcome(&open.record());
    open.logbook().clone().close().await;
    let document = serde_json::json!({ "setup": open.setup().number, "left_out": cell.to_string(), "because": reason });
    output.answer_recorded(&document, &words::skipped(cell, &reason, &outcome))
}

async fn close(number: Option<u32>, common: &Common, output: &Output) -> Result<(), CliError> {
    let open = find(number, common).await?;
    let record = open.record();
    let setup = open.logbook().close_and_leave(open.setup().number, Timestamp::now()).await?;
    output.answer_recorded(&setup, &words::closed(setup.number, &outcome(&record)))
}
