//! `setup amend`: what is said of a setup besides what was measured, added or put right.

use super::setting::setup as find;
use super::setup::blades;
use super::{CliError, Common, Output};
use crate::logbook::LogbookError;
use crate::record::{Blades, Setup};
use crate::units::Celsius;
use crate::words::setup as words;
use jiff::Timestamp;
use serde::Serialize;

/// Arguments of `setup amend`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// Number of the setup [default: the open one]
    number: Option<u32>,

    /// Who has checked it; the only thing that can be added to a closed setup
    #[arg(long, value_name = "WHO", value_parser = said)]
    checked_by: Option<String>,

    /// Who measures
    #[arg(long, value_name = "WHO", value_parser = said)]
    measured_by: Option<String>,

    /// Temperature in the workshop, °C
    #[arg(long, value_name = "CELSIUS", allow_negative_numbers = true)]
    temperature: Option<f64>,

    /// Why the head is set up
    #[arg(long, value_name = "TEXT", value_parser = said)]
    reason: Option<String>,

    /// Whether the main blades are fitted: on or off
    #[arg(long, value_parser = blades)]
    blades: Option<Blades>,

    /// The cautions have been read and hold
    #[arg(long)]
    cautions_read: bool,
}

fn said(text: &str) -> Result<String, String> {
    if text.trim().is_empty() { Err(words::WRITE_SOMETHING.to_owned()) } else { Ok(text.to_owned()) }
}

/// One detail before and after.
#[derive(Debug, PartialEq, Serialize)]
struct Change {
    what: &'static str,
    before: Option<String>,
    after: Option<String>,
}

impl Args {
    const fn is_empty(&self) -> bool {
        self.checked_by.is_none() && self.is_for_a_checker()
    }

    /// Nothing but who has checked is said.
    const fn is_for_a_checker(&self) -> bool {
        let Self { measured_by, temperature, reason, blades, cautions_read, .. } = self;
        measured_by.is_none() && temperature.is_none() && reason.is_none() && blades.is_none() && !*cautions_read
    }

    /// Writes into the setup what is said; what was acknowledged stays acknowledged when it was.
    fn amend(&self, setup: &mut Setup, now: Timestamp) {
        let put = |to: &mut Option<String>, said: &Option<String>| {
            if said.is_some() {
                to.clone_from(said);
            }
        };
        put(&mut setup.checked_by, &self.checked_by);
        put(&mut setup.measured_by, &self.measured_by);
        setup.temperature = self.temperature.map(Celsius::new).or(setup.temperature);
        setup.blades = self.blades.unwrap_or(setup.blades);
        if let Some(reason) = &self.reason {
            setup.reason.clone_from(reason);
        }
        if self.cautions_read {
            setup.cautions_acknowledged_at.get_or_insert(now);
        }
    }
}

/// Amends the setup, and says what has changed.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<(), CliError> {
    if args.is_empty() {
        return Err(CliError::Use(words::AMEND_WHAT.to_owned()));
    }
    let open = find(args.number, common).await?;
    let before = open.setup();
    if before.closed_at.is_some() && !args.is_for_a_checker() {
        return Err(LogbookError::Closed(before.number).into());
    }
    let logbook = open.logbook().clone();
    let after = logbook.amend_setup(before.number, |setup| args.amend(setup, Timestamp::now())).await?;
    logbook.close().await;
    let changes = changes(before, &after);
    let document = serde_json::json!({ "setup": after, "changed": changes });
    let told = changes.iter().map(|change| (change.what, change.before.as_deref(), change.after.as_deref()));
    output.answer_recorded(&document, &words::amended(&after, told))
}

fn changes(before: &Setup, after: &Setup) -> Vec<Change> {
    let (before, after) = (details(before), details(after));
    let pairs = before.into_iter().zip(after).map(|((what, before), (_, after))| Change { what, before, after });
    pairs.filter(|change| change.before != change.after).collect()
}

fn details(setup: &Setup) -> [(&'static str, Option<String>); 6] {
    [
        ("checked by", setup.checked_by.clone()),
        ("measured by", setup.measured_by.clone()),
        ("temperature", setup.temperature.map(|celsius| format!("{} °C", celsius.value()))),
        ("reason", Some(setup.reason.clone()).filter(|reason| !reason.is_empty())),
        ("blades", Some(setup.blades.to_string())),
        (
            "cautions acknowledged",
            setup.cautions_acknowledged_at.map(|at| at.strftime("%Y-%m-%d %H:%M UTC").to_string()),
        ),
    ]
}
