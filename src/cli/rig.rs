//! `clinoblade rig`: the simulated head as a byte source for another program, commanded on standard input.

use super::rig_driver::{RigDriverError, RigHandle, spawn};
use super::rig_port::Place;
use super::signals::Signals;
use super::{CliError, Outcome, terminal};
use crate::rig::{Rig, RigError, Scenario};
use crate::stream::file;
use crate::words::{Face, Say, rig as words};
use serde::Serialize;
use std::io::BufRead;
use std::path::{Path, PathBuf};
use tokio::sync::mpsc;

/// Run a simulated head: its sensor on a pseudo-terminal or TCP, commands on standard input, its truth on request.
///
/// The first line printed says where it is: `port /dev/pts/7`. Then every line on standard input is one command, and
/// every command is answered by one line, `ok …`, `error …`, or the truth as a JSON document.
#[derive(Debug, Clone, clap::Args)]
#[command(after_help = words::HELP)]
pub struct RigArgs {
    /// The scenario, a TOML file; without one a perfect clockwise two-blade head
    pub scenario: Option<PathBuf>,

    /// Keep a link of this name to the pseudo-terminal, also when it changes
    #[arg(long, value_name = "PATH", conflicts_with = "tcp")]
    pub link: Option<PathBuf>,

    /// Listen at this TCP address instead, such as 127.0.0.1:0
    #[arg(long, value_name = "HOST:PORT")]
    pub tcp: Option<String>,

    /// Speak as this kind of sensor does, at its usual rate and line speed: sentence, columns, labelled, xdr, frame, modbus
    #[arg(long, value_name = "NAME")]
    pub profile: Option<String>,

    /// Draw from this seed instead of the scenario's
    #[arg(long)]
    pub seed: Option<u64>,

    /// Let time go so many times as fast as in life; where the reader of the terminal does not keep up, it is waited for
    #[arg(long, value_name = "TIMES", default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=100))]
    pub speed: u8,

    /// End when standard input ends
    #[arg(long)]
    pub end_with_input: bool,

    /// Write the truth, as JSON, to this file at the end
    #[arg(long, value_name = "FILE")]
    pub truth: Option<PathBuf>,
}

/// What the command says first.
#[derive(Debug, Serialize)]
struct Begun {
    port: String,
    link: Option<PathBuf>,
    profile: &'static str,
    rate_hz: f64,
    baud: u32,
}

/// Runs the rig until it is told to quit, is interrupted, or, where asked for, its input ends.
///
/// With `json` the one document on standard output says where the rig is; answers go to standard error.
///
/// # Errors
/// When the scenario cannot be read or the port not be opened.
pub async fn run(args: RigArgs, json: bool) -> Result<Outcome, CliError> {
    let rig = Rig::new(scenario(&args)?)?;
    let settings = rig.scenario().stream.clone();
    let place = match (&args.tcp, &args.link) {
        (Some(address), _) => Place::Tcp(address.clone()),
        (None, Some(link)) => Place::Terminal { link: Some(link.clone()) },
        (None, None) => Place::usual(),
    };
    let handle = spawn(rig, place, args.speed)?;
    let begun = Begun {
        port: handle.port().unwrap_or_default(),
        link: args.link.clone(),
        profile: settings.profile.word(),
        rate_hz: settings.rate_hz.value(),
        baud: settings.baud,
    };
    if json {
        let document = serde_json::to_string(&begun).map_err(|error| CliError::Print(error.into()))?;
        terminal::print_document(&document).map_err(CliError::Print)?;
    } else {
        terminal::print(&format!("port {}", begun.port)).map_err(CliError::Print)?;
    }
    let rig = converse(handle, &args, json).await?;
    if let Some(path) = &args.truth {
        write_truth(&rig, path)?;
    }
    Ok(Outcome::Done)
}

fn scenario(args: &RigArgs) -> Result<Scenario, CliError> {
    let mut scenario = match &args.scenario {
        Some(path) => read_scenario(path)?,
        None => Scenario::default(),
    };
    if let Some(seed) = args.seed {
        scenario.seed = seed;
    }
    if let Some(name) = &args.profile {
        scenario.stream = scenario.stream.as_usual(name.parse()?);
    }
    Ok(scenario)
}

/// Reads a scenario from its file.
///
/// # Errors
/// When the file cannot be read, or what it says makes no helicopter.
pub fn read_scenario(path: &Path) -> Result<Scenario, CliError> {
    let name = path.display().to_string();
    let text = file::read_text(path, file::MOST_OF_A_DESCRIPTION).map_err(CliError::file(path))?;
    text.parse().map_err(|error: RigError| CliError::about(name, &error))
}

/// Takes commands and answers them until the end, then gives the rig back.
async fn converse(mut handle: RigHandle, args: &RigArgs, json: bool) -> Result<Rig, CliError> {
    let mut lines = input_lines();
    let mut input_open = true;
    let mut signals = Signals::new()?;
    loop {
        tokio::select! {
            () = handle.ended() => break,
            () = signals.next() => break,
            line = lines.recv(), if input_open => match line {
                Some(line) if line.trim().is_empty() || line.trim_start().starts_with('#') => {}
                Some(line) => {
                    let answer = tokio::select! {
                        answer = handle.command(&line) => answer,
                        () = signals.next() => break,
                    };
                    match answer {
                        Ok(answer) => reply(&answer, json)?,
                        Err(RigDriverError::Command(error)) => reply(&format!("error {}", error.say(Face::Terminal)), json)?,
                        Err(_) => break,
                    }
                }
                None if args.end_with_input => break,
                None => input_open = false,
            },
        }
    }
    Ok(handle.stop().await?)
}

fn reply(line: &str, json: bool) -> Result<(), CliError> {
    // One command, one line, whatever an error says.
    let line = line.replace('\n', "; ");
    if json {
        terminal::say(&line);
        return Ok(());
    }
    // The truth is a document.
    if line.starts_with('{') { terminal::print_document(&line) } else { terminal::print(&line) }
        .map_err(CliError::Print)
}

/// Lines of standard input, read in a thread of their own: such a read cannot be broken off.
fn input_lines() -> mpsc::Receiver<String> {
    let (sender, lines) = mpsc::channel(16);
    std::thread::spawn(move || {
        for line in std::io::stdin().lock().lines() {
            let Ok(line) = line else { break };
            if sender.blocking_send(line).is_err() {
                break;
            }
        }
    });
    lines
}

fn write_truth(rig: &Rig, path: &Path) -> Result<(), CliError> {
    let mut text = serde_json::to_string_pretty(&rig.truth()).map_err(|error| CliError::Print(error.into()))?;
    text.push('\n');
    crate::bench::written::over(path, &text).map_err(CliError::file(path))
}
