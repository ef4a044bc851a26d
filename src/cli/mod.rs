//! One file per command: arguments, then bench or logbook, then the answer.
//!
//! Standard output carries only the answer: text for people, or with `--json` one JSON document. Progress, questions
//! and logs go to standard error. The exit code says how it ended: 0 done, 1 the measurement says no, 2 wrong use,
//! 3 the sensor or its link failed, 4 the logbook failed.

mod adjust;
mod advise;
mod amend;
mod backup;
mod bench;
mod capture;
mod check;
mod compare;
mod completions;
mod datum;
mod demo;
mod document;
mod equipment;
mod error;
mod export;
mod head;
mod history;
mod import;
mod log;
mod named;
mod output;
mod ports;
mod progress;
mod question;
mod read;
mod recompute;
mod report;
mod reversal;
mod rig;
pub mod rig_driver;
mod rig_port;
mod rig_reader;
mod rotor;
mod sensor;
mod serve;
mod setting;
mod setup;
mod shown;
mod signals;
mod source;
mod spindle;
mod state;
mod steady;
mod sweep;
mod terminal;
mod track;
mod watch;

pub use error::{CliError, Outcome};
pub use output::Output;
pub use rig::{RigArgs, read_scenario};
pub use rig_port::Place;

use crate::words::{Face, Say, help, one_line, visible};
use clap::builder::Resettable;
use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};
use serde_json::Value;
use std::ffi::OsString;
use std::process::ExitCode;
use std::str::FromStr;

/// Read blade angles with a clip-on accelerometer and record the limits of every axis.
///
/// Without a command it prints where things stand: the sensor, the helicopters, the open setup and the next step.
#[derive(Debug, Parser)]
#[command(name = "clinoblade", version, propagate_version = true, max_term_width = 100)]
#[command(after_help = help::CAUTIONS)]
struct Cli {
    #[command(flatten)]
    common: Common,

    #[command(subcommand)]
    command: Option<Command>,
}

/// Options that stand before or after any command.
#[derive(Debug, Clone, clap::Args)]
pub struct Common {
    /// Logbook to use [default: the one in your data directory]
    #[arg(long, global = true, value_name = "PATH|URL", env = "CLINOBLADE_LOGBOOK", hide_env_values = true)]
    #[arg(help_heading = "Common options")]
    pub logbook: Option<String>,

    /// Print one JSON document on standard output
    #[arg(long, global = true, help_heading = "Common options")]
    pub json: bool,

    /// Print more; twice for still more
    #[arg(short, long, global = true, action = clap::ArgAction::Count, help_heading = "Common options")]
    pub verbose: u8,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Do the whole job with a simulated helicopter
    Demo(demo::Args),
    /// Open the bench page in the browser: it leads you through the job, hands-free
    Bench(Box<bench::Args>),
    /// List the serial ports
    Ports,
    /// Set up, calibrate and check the sensor
    Sensor(sensor::Args),
    /// Write and show the description of a helicopter
    Head(head::Args),
    /// Begin, list, show and close setups in the logbook
    Setup(setup::Args),
    /// Set the zero
    Datum(datum::Args),
    /// Show the live blade angle
    Watch(watch::Args),
    /// Read one steady angle with its uncertainty; records nothing
    Read(read::Args),
    /// Record one axis direction
    Capture(capture::Args),
    /// Move every stick to its ends and compare with the record
    Sweep(sweep::Args),
    /// Record what you turned; results that moved are marked out of date
    Adjust(adjust::Args),
    /// Show what to turn
    Advise(advise::Args),
    /// Compare the blades (tracking) and how many readings that needs
    Track(track::Args),
    /// Find out whether the spindle is bent
    Spindle(spindle::Args),
    /// Solve the rotor: collective, tracking, swashplate tilt, lean of the shaft
    Rotor(rotor::Args),
    /// Show the limit record and what is still missing
    Check(check::Args),
    /// Compare two setups, cell by cell
    Compare(compare::Args),
    /// Show one helicopter's cells over its setups
    History(history::Args),
    /// Write the setup sheet: HTML to print, text or JSON
    Report(report::Args),
    /// Write a setup with its raw samples as a JSON document
    Export(export::Args),
    /// Import exported setups; nothing is overwritten
    Import(import::Args),
    /// Copy the logbook to a file, while it is in use
    Backup(backup::Args),
    /// Simulate a helicopter head on a serial port
    Rig(RigArgs),
    /// Print a completion script for your shell
    Completions(completions::Args),
}

/// The command line. Text below the options is printed by `--help` only, so that `-h` fits on one screen.
#[must_use]
pub fn command() -> clap::Command {
    fn only_in_the_long_help(command: clap::Command) -> clap::Command {
        let command = match command.get_after_help().cloned() {
            Some(text) => command.after_help(Resettable::Reset).after_long_help(text),
            None => command,
        };
        command.mut_subcommands(only_in_the_long_help)
    }
    Cli::command().mut_subcommands(only_in_the_long_help)
}

/// Parses the arguments, runs the command, prints what went wrong, and gives the exit code. Not generic, so that it is compiled
/// with the library and not once more with the program.
#[must_use]
pub fn main(arguments: Vec<OsString>) -> ExitCode {
    terminal::report_failures(watch::whole::restore);
    let cli = match command().try_get_matches_from(&arguments).and_then(|matches| Cli::from_arg_matches(&matches)) {
        Ok(cli) => cli,
        Err(help_or_error) => return not_parsed(&help_or_error, &arguments),
    };
    log::start(cli.common.verbose);
    let output = Output::new(cli.common.json).verbose(cli.common.verbose > 0);
    let runtime = match tokio::runtime::Builder::new_multi_thread().enable_all().build() {
        Ok(runtime) => runtime,
        Err(error) => return CliError::Runtime(error).report(output),
    };
    let outcome = runtime.block_on(dispatch(cli, &output));
    // A blocking read of standard input must not delay the end.
    runtime.shutdown_background();
    match outcome {
        Ok(outcome) => outcome.into(),
        Err(error) => error.report(output),
    }
}

/// Parses an argument; its error is said in our words.
fn parsed<T: FromStr<Err: Say>>(text: &str) -> Result<T, String> {
    text.parse().map_err(|error: T::Err| error.say(Face::Terminal))
}

/// Prints the help, or what is wrong with the arguments; with `--json` the latter as a document.
fn not_parsed(help_or_error: &clap::Error, arguments: &[OsString]) -> ExitCode {
    let code = if help_or_error.use_stderr() { 2 } else { 0 };
    // The same error about words of which nothing steers, if it can be had: with clap's styles.
    let again = as_letters(arguments).and_then(|letters| command().try_get_matches_from(letters).err());
    let help_or_error = again.as_ref().filter(|error| error.kind() == help_or_error.kind()).unwrap_or(help_or_error);
    if code != 0 && arguments.iter().take_while(|word| *word != "--").any(|word| word == "--json") {
        error::document_of_failure(Value::Null, help_or_error.to_string().trim_end(), code, Output::new(true));
    }
    // What stands in the environment may hold more than letters.
    let plain = help_or_error.to_string();
    let shown = visible(plain.trim_end());
    // If the terminal is gone, there is nobody to tell.
    let _ = if shown == plain.trim_end() {
        help_or_error.print()
    } else if help_or_error.use_stderr() {
        terminal::say(&shown);
        Ok(())
    } else {
        terminal::print(&shown)
    };
    ExitCode::from(code)
}

/// The arguments with everything shown that would steer a terminal or begin a line; none where that changes nothing.
fn as_letters(arguments: &[OsString]) -> Option<Vec<OsString>> {
    let letters = arguments.iter().map(|word| OsString::from(one_line(&word.to_string_lossy()).into_owned()));
    let letters: Vec<OsString> = letters.collect();
    (letters != arguments).then_some(letters)
}

async fn dispatch(cli: Cli, output: &Output) -> Result<Outcome, CliError> {
    let common = &cli.common;
    let Some(command) = cli.command else { return state::run(common, output).await };
    match command {
        Command::Rig(arguments) => rig::run(arguments, output.is_json()).await,
        Command::Demo(arguments) => demo::run(arguments, output).await,
        Command::Bench(arguments) => bench::run(*arguments, common, output).await,
        Command::Ports => ports::run(output).await,
        Command::Sensor(arguments) => sensor::run(arguments, common, output).await,
        Command::Head(arguments) => head::run(arguments, output),
        Command::Setup(arguments) => setup::run(arguments, common, output).await,
        Command::Datum(arguments) => datum::run(arguments, common, output).await,
        Command::Watch(arguments) => watch::run(arguments, common, output).await,
        Command::Read(arguments) => read::run(arguments, common, output).await,
        Command::Capture(arguments) => capture::run(arguments, common, output).await,
        Command::Sweep(arguments) => sweep::run(arguments, common, output).await,
        Command::Adjust(arguments) => adjust::run(arguments, common, output).await,
        Command::Advise(arguments) => advise::run(arguments, common, output).await,
        Command::Track(arguments) => track::run(arguments, common, output).await,
        Command::Spindle(arguments) => spindle::run(arguments, common, output).await,
        Command::Rotor(arguments) => rotor::run(arguments, common, output).await,
        Command::Check(arguments) => check::run(arguments, common, output).await,
        Command::Compare(arguments) => compare::run(arguments, common, output).await,
        Command::History(arguments) => history::run(arguments, common, output).await,
        Command::Report(arguments) => report::run(arguments, common, output).await,
        Command::Export(arguments) => export::run(arguments, common, output).await,
        Command::Import(arguments) => import::run(arguments, common, output).await,
        Command::Backup(arguments) => backup::run(arguments, common, output).await,
        Command::Completions(arguments) => completions::run(&arguments, output),
    }
}
