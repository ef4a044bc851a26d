//! `track`: all blades at one station, the split between them, and how many readings its tolerance still takes.

use super::advise::link;
use super::setting::{setup, setup_to_write};
use super::source::{Opened, SourceArgs, reseat};
use super::steady::{SteadyArgs, take_in};
use super::{CliError, Common, Outcome, Output, document};
use crate::bench::{Instrument, OpenSetup, Order, Session};
use crate::cli::parsed;
use crate::filter::SteadySettings;
use crate::record::{JudgedSplit, LimitedBy, LinkSurvey, Subject, TrackForecast, TrackSurvey, trade};
use crate::rotor::{Axis, BladeName, Carrier, Clip, Collective, Deflection, Moves, Spot, Station, next_blade};
use crate::uncertainty::Decision;
use crate::units::Angle;
use crate::words::uncertainty::explained;
use crate::words::{Face, Say};
use serde_json::{Value, json};

/// Arguments of `track`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  clinoblade track                                from the captures at mid stick in the open setup
  clinoblade track --live --station 90            guided: A, B, B, A until the tolerance is decided
  clinoblade track --forecast                     what it will take, before anything is read

All blades are read at one and the same station, with one clip or with a sensor on each (--port a=… --port b=…), the head turned in \
between: then lean of shaft and swashplate drop out of
their difference. Each guided reading is recorded as a capture at mid stick.")]
pub(super) struct Args {
    /// The station, degrees from the boom in the direction of rotation [default: that of the newest capture; live: 90]
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = parsed::<Station>)]
    station: Option<Station>,

    /// Read now, guided from blade to blade
    #[arg(long, conflicts_with = "forecast")]
    live: bool,

    /// Only say what it will take
    #[arg(long)]
    forecast: bool,

    /// Work on this setup instead of the open one
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,

    #[command(flatten)]
    steady: SteadyArgs,

    #[command(flatten)]
    source: SourceArgs,
}

/// Reads where asked to, judges and prints.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let live = args.live || args.source.is_named();
    let mut open = if live { setup_to_write(args.setup, common).await? } else { setup(args.setup, common).await? };
    let reseat = reseat(open.logbook()).await?;
    let stays = if live { Some(!args.source.carriers()?.is_empty()) } else { None };
    let forecast = TrackForecast::new(&open.setup().head, open.entries(), reseat.as_ref(), stays);
    if args.forecast {
        let document = json!({ "setup": open.setup().number, "forecast": told_beforehand(&forecast) });
        output.answer(&document, &forecast.sentence())?;
        return Ok(if forecast.moves == Moves::Never { Outcome::SaysNo } else { Outcome::Done });
    }
    if live {
        // Before the first reading, so that nobody turns a head for nothing.
        output.say(&forecast.sentence());
        guide(&args, &mut open, output).await?;
    }
    let survey = TrackSurvey::new(&open.setup().head, open.entries(), args.station)?;
    let mut document = described(&survey);
    if let Value::Object(fields) = &mut document {
        fields.insert("setup".to_owned(), open.setup().number.into());
        fields.insert("forecast".to_owned(), told_beforehand(&forecast));
    }
    let mut text = told(&survey, args.steady.explain);
    if let Some(links) = what_to_turn(&open, &survey) {
        if let Value::Object(fields) = &mut document {
            fields.insert("links".to_owned(), link::document(&links));
        }
        text = format!("{text}\n{}", link::told(&links).join("\n"));
    }
    output.answer(&document, &text)?;
    open.logbook().clone().close().await;
    Ok(if survey.is_good() { Outcome::Done } else { Outcome::SaysNo })
}

/// From blade to blade, there and back again, until the tolerance is decided, no reading would, or the person stops.
async fn guide(args: &Args, open: &mut OpenSetup, output: &Output) -> Result<(), CliError> {
    let mid = trade::neutral(Axis::Collective);
    let station = args.station.unwrap_or_else(|| trade::own_station(&open.setup().head, mid));
    let settings = args.steady.settings()?;
    let blades: Vec<BladeName> = open.setup().head.blades.names().collect();
    for blade in &blades {
        // Before anything is opened: a blade that no sensor is named for.
        args.source.at(*blade, Spot::Main(station))?;
    }
    let (first, others) = args.source.open_each(open.logbook(), &open.setup().head, output).await?;
    if first.stream.runs_as_asked() {
        return Err(CliError::Use("a guided track needs a sensor that can be moved: name a --port or --tcp".into()));
    }
    let mut benches: Vec<Bench> =
        std::iter::once(first).chain(others).map(|opened| Bench::start(opened, settings)).collect();
    let (mut taken, mut last) = (0, None);
    while let Some(blade) = next_blade(&blades, taken) {
        if taken > 0 && taken % blades.len() == 0 {
            let survey = TrackSurvey::new(&open.setup().head, open.entries(), Some(station))?;
            match survey.remaining() {
                Some(0) => break,
                Some(more) => output.say(&format!("Not decided yet: {more} more readings.")),
                None => {
                    output.say("Not decided, and no number of readings would decide it.");
                    break;
                }
            }
        }
        let Some(bench) = benches.iter_mut().find(|bench| bench.reads(blade)) else { break };
        let seat = match bench.instrument.carrier {
            Some(_) => "its sensor left as it sits",
            None if last == Some(blade) => "take the clip off and put it on again",
            None => "put the clip on",
        };
        output.say(&format!("{}: blade {blade} at station {station}, sticks at mid, {seat}; then Enter.", taken + 1));
        if super::question::line().await.is_none() {
            output.say("The input ended: what was read so far counts.");
            break;
        }
        bench.read(open, blade, station, output).await?;
        (taken, last) = (taken + 1, Some(blade));
    }
    for bench in benches {
        bench.session.end().await?;
    }
    Ok(())
}

struct Bench {
    session: Session,
    instrument: Instrument,
    port: String,
    settings: SteadySettings,
}

impl Bench {
    fn start(opened: Opened, settings: SteadySettings) -> Self {
        let Opened { stream, instrument, name, .. } = opened;
        Self { session: Session::start(stream, instrument.clone()), instrument, port: name, settings }
    }

    /// Whether its sensor is the one that reads this blade.
    fn reads(&self, blade: BladeName) -> bool {
        self.instrument.carrier.is_none_or(|carrier| carrier == Carrier::Main(blade))
    }

    /// One reading, recorded as a capture at mid stick: on a seat of its own where the clip goes from blade to blade.
    async fn read(
        &mut self,
        open: &mut OpenSetup,
        blade: BladeName,
        station: Station,
        output: &Output,
    ) -> Result<(), CliError> {
        let deflection = Deflection::Collective(Collective::Mid);
        let order = Order {
            subject: Subject::new(deflection, blade, Spot::Main(station))?,
            clip: Clip::Forward,
            stick: Collective::Mid.stick(),
            stick_said: false,
            limited_by: LimitedBy::EndPoint,
            approach: None,
            reseated: self.instrument.carrier.is_none(),
        };
        let taken = take_in(&self.session, self.settings, output).await?;
        let draft = open.draft(&order, &taken, &self.instrument, &self.port)?;
        output.say(&format!("   blade {blade} reads {}", document::value(&draft.capture.reading)));
        open.keep(draft).await?;
        Ok(())
    }
}

fn told_beforehand(forecast: &TrackForecast) -> Value {
    json!({
        "expected_uncertainty_deg": forecast.expected,
        "room_deg": forecast.room,
        "readings_of_each_blade": each(forecast.moves),
        "decidable": forecast.moves != Moves::Never,
        "says": forecast.sentence(),
    })
}

const fn each(moves: Moves) -> Option<u32> {
    match moves {
        Moves::Each(n) => Some(n),
        Moves::Never => None,
    }
}

fn described(survey: &TrackSurvey) -> Value {
    let station = match survey.track.spot {
        Spot::Main(station) => Some(station),
        Spot::Tail(_) => None,
    };
    let blades: Vec<Value> = survey
        .track
        .pitch
        .iter()
        .zip(&survey.taken)
        .map(|((blade, pitch), (_, readings))| json!({ "blade": blade, "pitch_deg": pitch, "readings": readings }))
        .collect();
    let splits: Vec<Value> = survey
        .splits
        .iter()
        .map(|split| {
            json!({
                "blade": split.blade,
                "against": survey.track.reference,
                "split_deg": split.split,
                "expanded_uncertainty_deg": split.budget.expanded().expanded,
                "components": split.budget.components(),
                "verdict": word(&split.decision),
                "readings_of_each_blade": each(split.moves),
            })
        })
        .collect();
    json!({
        "station_deg": station,
        "blades": blades,
        "splits": splits,
        "target": survey.target,
        "decided": survey.is_decided(),
        "remaining_readings": survey.remaining(),
        "captures": survey.captures,
    })
}

const fn word(decision: &Decision) -> &'static str {
    match decision {
        Decision::Inside => "inside",
        Decision::Outside => "outside",
        Decision::Undecided(_) => "undecided",
    }
}

fn told(survey: &TrackSurvey, explain: bool) -> String {
    let reference = survey.track.reference;
    let mut lines: Vec<String> = survey
        .track
        .pitch
        .iter()
        .zip(&survey.taken)
        .map(|((blade, pitch), (_, n))| {
            format!("blade {blade} {pitch} ({n} {})", if *n == 1 { "reading" } else { "readings" })
        })
        .collect();
    for split in &survey.splits {
        let value = document::with_uncertainty(split.split, split.budget.expanded().expanded);
        let verdict = word(&split.decision);
        lines.push(format!(
            "track {blade} less {reference} {value} (positive: blade {blade} stands higher), wanted {}: {verdict}",
            survey.target,
            blade = split.blade,
        ));
        lines.extend(what_now(split, reference));
        if explain {
            lines.push(explained(&split.budget, Face::Terminal));
        }
    }
    match survey.remaining() {
        Some(0) => {}
        Some(more) => lines.push(format!(
            "{more} more readings would decide it, the clip put on anew for every one and there and back again (`track --live`)"
        )),
        None => lines.push("no number of readings would decide it as it stands".to_owned()),
    }
    lines.join("\n")
}

/// Which links to turn, where a split is outside.
fn what_to_turn(open: &OpenSetup, survey: &TrackSurvey) -> Option<LinkSurvey> {
    let outside = survey.splits.iter().any(|split| split.decision == Decision::Outside);
    LinkSurvey::new(&open.setup().head, open.entries(), None, None).ok().filter(|_| outside)
}

/// Which blade stands above which; what else would decide an undecided one.
fn what_now(split: &JudgedSplit, reference: BladeName) -> Option<String> {
    match &split.decision {
        Decision::Inside => None,
        Decision::Outside => {
            let (high, low) =
                if split.split > Angle::ZERO { (split.blade, reference) } else { (reference, split.blade) };
            Some(format!("blade {high} stands {:.2}° above blade {low}", split.split.abs().degrees()))
        }
        Decision::Undecided(doubt) => Some(doubt.say(Face::Terminal)),
    }
}
