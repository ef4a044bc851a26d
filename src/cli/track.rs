//! `track`: all blades at one station, the split between them, and how many readings its tolerance still takes.

use super::advise::link::Links;
use super::setting::{setup, setup_to_write};
use super::shown::Shown;
use super::source::{Opened, SourceArgs};
use super::steady::{SteadyArgs, take_in};
use super::{CliError, Common, Outcome, Output};
use crate::bench::saved_reseat;
use crate::bench::{Instrument, Order, Session, SetupHandle};
use crate::cli::parsed;
use crate::filter::SteadySettings;
use crate::record::{LimitedBy, LinkSurvey, Subject, TrackForecast, TrackSurvey, trade};
use crate::rotor::{Axis, BladeName, Carrier, Clip, Collective, Deflection, Moves, Spot, Station, next_blade};
use crate::uncertainty::{Component, Decision, Doubt, Target};
use crate::units::Angle;
use crate::words::survey::{self as words, Seating, TRACK_HELP};
use crate::words::{Face, Say};
use serde::Serialize;
use std::collections::BTreeMap;
use uuid::Uuid;

/// Arguments of `track`.
#[derive(Debug, clap::Args)]
#[command(after_help = TRACK_HELP)]
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
    let reseat = saved_reseat(open.logbook()).await?;
    let stays = if live { Some(!args.source.carriers()?.is_empty()) } else { None };
    let forecast = TrackForecast::new(&open.setup().head, open.entries(), reseat.as_ref(), stays);
    if args.forecast {
        let answer = Forecast { setup: open.setup().number, forecast: ForecastAnswer::new(&forecast) };
        output.answer(&answer, &forecast.say(Face::Terminal))?;
        return Ok(if forecast.moves == Moves::Never { Outcome::SaysNo } else { Outcome::Done });
    }
    if live {
        // Before the first reading, so that nobody turns a head for nothing.
        output.say(&forecast.say(Face::Terminal));
        guide(&args, &mut open, output).await?;
    }
    let survey = TrackSurvey::new(&open.setup().head, open.entries(), args.station)?;
    let mut text = words::track(&survey, args.steady.explain);
    let links = what_to_turn(&open, &survey);
    text.extend(links.iter().flat_map(|links| ["\n".to_owned(), crate::words::advice::links(links)]));
    output.answer(&Answer::new(open.setup().number, &survey, &forecast, links.as_ref()), &text)?;
    open.logbook().clone().close().await;
    Ok(if survey.is_good() { Outcome::Done } else { Outcome::SaysNo })
}

/// From blade to blade, there and back again, until the tolerance is decided, no reading would, or the person stops.
async fn guide(args: &Args, open: &mut SetupHandle, output: &Output) -> Result<(), CliError> {
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
        return Err(CliError::Use(words::NOT_MOVABLE.to_owned()));
    }
    let mut benches: Vec<Bench> =
        std::iter::once(first).chain(others).map(|opened| Bench::start(opened, settings)).collect();
    let (mut taken, mut last) = (0, None);
    while let Some(blade) = next_blade(&blades, taken) {
        if taken > 0 && taken % blades.len() == 0 {
            let survey = TrackSurvey::new(&open.setup().head, open.entries(), Some(station))?;
            match survey.remaining() {
                Some(0) => break,
                more => {
                    output.say(&words::not_decided(more));
                    if more.is_none() {
                        break;
                    }
                }
            }
        }
        let Some(bench) = benches.iter_mut().find(|bench| bench.reads(blade)) else { break };
        let seat = match bench.instrument.carrier {
            Some(_) => Seating::Stays,
            None if last == Some(blade) => Seating::Again,
            None => Seating::On,
        };
        output.say(&words::next_reading(taken + 1, blade, station, seat));
        if super::question::line().await.is_none() {
            output.say(words::INPUT_ENDED);
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
        open: &mut SetupHandle,
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
        let taken = take_in(&self.session, self.settings, Shown::default(), output).await?;
        let draft = open.draft(&order, &taken, &self.instrument, &self.port)?;
        let reading = &draft.capture.reading;
        output.say(&words::blade_reads(blade, reading.angle, reading.budget.expanded().expanded));
        open.keep(draft).await?;
        Ok(())
    }
}

#[derive(Serialize)]
struct Forecast {
    setup: u32,
    forecast: ForecastAnswer,
}

#[derive(Serialize)]
struct ForecastAnswer {
    expected_uncertainty_deg: Angle,
    room_deg: Angle,
    readings_of_each_blade: Option<u32>,
    decidable: bool,
    says: String,
}

impl ForecastAnswer {
    fn new(forecast: &TrackForecast) -> Self {
        Self {
            expected_uncertainty_deg: forecast.expected,
            room_deg: forecast.room,
            readings_of_each_blade: each(forecast.moves),
            decidable: forecast.moves != Moves::Never,
            says: forecast.say(Face::Terminal),
        }
    }
}

const fn each(moves: Moves) -> Option<u32> {
    match moves {
        Moves::Each(n) => Some(n),
        Moves::Never => None,
    }
}

#[derive(Serialize)]
struct Answer {
    setup: u32,
    forecast: ForecastAnswer,
    station_deg: Option<Station>,
    blades: Vec<BladeAnswer>,
    splits: Vec<SplitAnswer>,
    target: Target,
    decided: bool,
    remaining_readings: Option<u32>,
    captures: Vec<Uuid>,
    #[serde(skip_serializing_if = "Option::is_none")]
    links: Option<Links>,
}

#[derive(Serialize)]
struct BladeAnswer {
    blade: BladeName,
    pitch_deg: Angle,
    readings: u32,
}

#[derive(Serialize)]
struct SplitAnswer {
    blade: BladeName,
    against: BladeName,
    split_deg: Angle,
    expanded_uncertainty_deg: Angle,
    components: BTreeMap<Component, Angle>,
    verdict: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    doubt: Option<Doubt>,
    readings_of_each_blade: Option<u32>,
}

impl Answer {
    fn new(setup: u32, survey: &TrackSurvey, forecast: &TrackForecast, links: Option<&LinkSurvey>) -> Self {
        let station_deg = match survey.track.spot {
            Spot::Main(station) => Some(station),
            Spot::Tail(_) => None,
        };
        let blades = survey.track.pitch.iter().zip(&survey.taken);
        let splits = survey.splits.iter().map(|split| SplitAnswer {
            blade: split.blade,
            against: survey.track.reference,
            split_deg: split.split,
            expanded_uncertainty_deg: split.budget.expanded().expanded,
            components: split.budget.components(),
            verdict: words::verdict(&split.decision),
            doubt: if let Decision::Undecided(doubt) = &split.decision { Some(doubt.clone()) } else { None },
            readings_of_each_blade: each(split.moves),
        });
        Self {
            setup,
            forecast: ForecastAnswer::new(forecast),
            station_deg,
            blades: blades
                .map(|(&(blade, pitch_deg), &(_, readings))| BladeAnswer { blade, pitch_deg, readings })
                .collect(),
            splits: splits.collect(),
            target: survey.target,
            decided: survey.is_decided(),
            remaining_readings: survey.remaining(),
            captures: survey.captures.clone(),
            links: links.map(Links::new),
        }
    }
}

/// Which links to turn, where a split is outside.
fn what_to_turn(open: &SetupHandle, survey: &TrackSurvey) -> Option<LinkSurvey> {
    let outside = survey.splits.iter().any(|split| split.decision == Decision::Outside);
    LinkSurvey::new(&open.setup().head, open.entries(), None, None).ok().filter(|_| outside)
}
