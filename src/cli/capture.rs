//! `capture`: one axis direction, recorded into the limit record of the open setup.

use super::error::Fault;
use super::progress::while_waiting;
use super::setting::setup_to_write;
use super::shown::Shown;
use super::source::SourceArgs;
use super::steady::SteadyArgs;
use super::{CliError, Common, Outcome, Output, document};
use crate::bench::{Draft, Order, SetupHandle, Taken};
use crate::cli::parsed;
use crate::record::{Approach, Capture, Head, LimitRecord, LimitedBy, Subject, trade};
use crate::rotor::{Axis, BladeName, Clip, Deflection, LeadingEdge, Place, Spot, Station};
use crate::units::Percent;
use crate::words::{Face, Say, cli, help, reading, record, setup};
use serde_json::Value;

/// Arguments of `capture`.
#[derive(Debug, clap::Args)]
#[command(after_help = help::CAPTURE)]
pub(super) struct Args {
    /// elevator, aileron, rudder, collective or corner
    #[arg(value_parser = parsed::<Axis>)]
    axis: Axis,

    /// up, down, left, right, neutral, low, mid, high, 25%; for a corner high up-left
    #[arg(required = true, num_args = 1.., value_name = "DIRECTION")]
    direction: Vec<String>,

    /// The blade that carries the clip
    #[arg(long, default_value = "A", value_parser = parsed::<BladeName>)]
    blade: BladeName,

    /// Main blade's place, degrees from the boom as the rotor turns
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = parsed::<Station>)]
    station: Option<Station>,

    /// Where the tail blade's leading edge points [default: up]
    #[arg(long, value_name = "up|down", conflicts_with = "station", value_parser = parsed::<LeadingEdge>)]
    leading_edge: Option<LeadingEdge>,

    /// Clip forward or reversed (end for end)
    #[arg(long, value_name = "forward|reversed", default_value = "forward", value_parser = parsed::<Clip>)]
    clip: Clip,

    /// The linkage binds here; captured just short of it
    #[arg(long)]
    bound: bool,

    /// Stick position in percent, if not fully at the direction named
    #[arg(long, hide_short_help = true, value_name = "PERCENT", allow_negative_numbers = true)]
    stick: Option<f64>,

    /// Side from which the stick came; one capture from each side shows lost motion
    #[arg(long, hide_short_help = true, value_name = "below|above", value_parser = approach)]
    from: Option<Approach>,

    /// You took the clip off and put it on again since the last capture
    #[arg(long)]
    reseated: bool,

    /// Record the reading even if it contradicts what is expected
    #[arg(long)]
    as_read: bool,

    /// Record into this setup [default: the open one]
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,

    #[command(flatten)]
    steady: SteadyArgs,

    #[command(flatten)]
    source: SourceArgs,
}

impl Args {
    fn deflection(&self) -> Result<Deflection, CliError> {
        Ok(Deflection::new(self.axis, &self.direction.join(" "))?)
    }

    fn subject(&self, head: &Head) -> Result<Subject, CliError> {
        let deflection = self.deflection()?;
        let usual = || match self.axis {
            Axis::Rudder => Spot::Tail(LeadingEdge::Up),
            _ => Spot::Main(trade::own_station(head, deflection)),
        };
        Ok(Subject::new(deflection, self.blade, self.spot_said().unwrap_or_else(usual))?)
    }

    /// Where the blade is said to stand.
    fn spot_said(&self) -> Option<Spot> {
        self.station.map(Spot::Main).or(self.leading_edge.map(Spot::Tail))
    }

    /// Stick position: that of `--stick` if the direction allows it, by default its end or centre.
    fn stick(&self, deflection: Deflection) -> Result<Percent, CliError> {
        let usual = deflection.full_stick();
        let Some(said) = self.stick else { return Ok(usual) };
        let ways = trade::stick_ways(deflection);
        // At a corner both signs say how far the cyclic stick is over.
        let said = if deflection.axis() == Axis::Corner { said.abs() } else { said };
        if ways.contains(&said) {
            Ok(Percent::new(said))
        } else {
            Err(CliError::Use(cli::stick_range(deflection, &ways)))
        }
    }
}

fn approach(text: &str) -> Result<Approach, String> {
    match text {
        "below" => Ok(Approach::Below),
        "above" => Ok(Approach::Above),
        _ => Err(cli::BELOW_OR_ABOVE.to_owned()),
    }
}

/// Reads, asks if the reading contradicts what is expected, records, and prints.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    // An impossible stick position or place is refused before the logbook is opened.
    let deflection = args.deflection()?;
    let stick = args.stick(deflection)?;
    if let Some(spot) = args.spot_said() {
        Subject::new(deflection, args.blade, spot)?;
    }
    let open = setup_to_write(args.setup, common).await?;
    let subject = args.subject(&open.setup().head)?;
    let order = Order {
        subject,
        clip: args.clip,
        stick,
        stick_said: args.stick.is_some(),
        limited_by: if args.bound { LimitedBy::Bind } else { LimitedBy::EndPoint },
        approach: args.from,
        reseated: args.reseated,
    };
    let source = args.source.at(subject.blade(), subject.spot())?;
    let saved = source.saved_for(open.logbook(), output).await?;
    let opened = source.open(&saved, open.setup().head.rotation).await?;
    let (instrument, port) = (opened.instrument.clone(), opened.name.clone());
    if !output.is_json() {
        output.say(&setup::line(open.setup()));
        output.say(&cli::hold(subject));
    }
    let place = Place { blade: subject.blade(), spot: subject.spot(), clip: args.clip };
    // A zero that does not hold here is refused with the capture.
    let shown = Shown::new(open.datum(instrument.carrier).datum, Some(place), args.clip).unwrap_or_default();
    let taken = super::steady::take(opened, &args.steady, shown, output).await?;
    // During the reading another program may have recorded something or seated another clip.
    let open = open.caught_up().await;
    let draft = open.draft(&order, &taken, &instrument, &port)?;
    finish(&args, open, draft, &taken, output).await
}

/// Keeps the draft unless it was never steady or its contradiction is not accepted.
async fn finish(
    args: &Args,
    mut open: SetupHandle,
    draft: Draft,
    taken: &Taken,
    output: &Output,
) -> Result<Outcome, CliError> {
    let document = with_stream(record::capture_document(&draft.capture, open.setup().number, &draft.record), taken);
    if !draft.capture.reading.steady {
        output.answer(&document, &reading::restless(&draft.capture.reading))?;
        return Ok(Outcome::SaysNo);
    }
    let draft = match draft.question().map(|question| question.say(Face::Terminal)) {
        // What is right as read is in question no more.
        None if args.as_read => open.accepted(draft),
        None => draft,
        Some(question) if args.as_read || super::question::yes(&question, cli::RECORD_AS_READ, output).await => {
            open.accepted(draft)
        }
        Some(question) => {
            let said = cli::not_recorded(&question);
            return Err(CliError::Failed { fault: Fault::Measurement, on_page: said.clone(), said, shown: document });
        }
    };
    let document = with_stream(record::capture_document(&draft.capture, open.setup().number, &draft.record), taken);
    let text = format!("{}\n{}", setup::line(open.setup()), told(args, &draft, taken, output));
    let corner = draft.capture.clone();
    while_waiting(output, open.keep(draft)).await?;
    let text = with_needs(text, &open, &corner);
    // Print only what is on the disk.
    output.answer_recorded(&document, &text)?;
    open.logbook().clone().close().await;
    Ok(Outcome::Done)
}

fn with_stream(mut document: Value, taken: &Taken) -> Value {
    if let Value::Object(fields) = &mut document {
        fields.extend(document::stream(taken));
    }
    document
}

/// Adds what a corner still needs before it can be compared with the sum of its parts.
fn with_needs(text: String, open: &SetupHandle, capture: &Capture) -> String {
    let needs = LimitRecord::corner_needs(&open.setup().head, open.entries(), capture);
    if needs.is_empty() {
        return text;
    }
    format!("{text}\n{}", cli::corner_needs(capture.subject, &needs))
}

fn told(args: &Args, draft: &Draft, taken: &Taken, output: &Output) -> String {
    let captured = &draft.capture.reading;
    let mut lines = Vec::from_iter(reading::bad_line(taken.counters.damaged(), taken.counters.good));
    lines.push(format!("recorded {}: read {}", draft.capture.subject, reading::value(captured)));
    let mut budget = captured.budget.clone();
    if let Some(cell) = draft.cell()
        && let Some(value) = cell.judged_value()
    {
        lines.push(record::judged_line(cell));
        lines.extend(record::consequence(cell, Face::Terminal));
        lines.extend(record::remarks(cell));
        budget = value.budget;
    }
    if args.steady.explain {
        lines.push(crate::words::uncertainty::explained(&budget, crate::words::Face::Terminal));
    }
    lines.extend(record::not_used_in(&draft.record, &draft.capture));
    lines.extend(reading::remarks(captured, &taken.steady, &taken.counters, output.is_verbose()));
    lines.join("\n")
}
