//! One setup as the program keeps it, and how each deed is done in it.

use super::bench::{Bench, order, spot};
use super::reference::{Deed, ENDS, Rules, Setup, Shot};
use super::step::{Move, Place, Turned, Wish, Zero};
use clinoblade::bench::{EvaluateError, KeepError, SetupHandle};
use clinoblade::logbook::{Logbook, LogbookError};
use clinoblade::record::{CableCheck, Event, Interruption, Question, SpindleCheck, Sweep, Swept};
use clinoblade::rotor::{BladeName, Datum, DatumError, Station};
use clinoblade::units::Angle;
use uuid::Uuid;

/// What the program made of a deed.
#[derive(Debug, Clone, Copy, Default)]
pub struct Written {
    pub id: Uuid,
    /// What was read.
    pub angle: f64,
    /// What the head really did.
    pub truth: f64,
    /// How the span sloped.
    pub slope: f64,
    /// How far each end of an axis came that was moved once more.
    pub reached: [f64; 2],
}

#[derive(Clone)]
pub struct Book {
    pub logbook: Logbook,
    pub number: u32,
    /// Deed by deed.
    pub written: Vec<Written>,
}

impl Book {
    pub async fn open(&self) -> SetupHandle {
        SetupHandle::find(self.logbook.clone(), Some(self.number)).await.unwrap()
    }

    /// Does the last deed of this account, and notes what came of it.
    pub async fn perform(&mut self, bench: &mut Bench, setup: &Setup, rules: Rules) -> Result<(), LogbookError> {
        let deed = *setup.deeds.last().unwrap();
        let written = match deed {
            Deed::Shot(shot) => self.capture(bench, shot, setup.lacks_its_neutral(rules)).await?,
            Deed::Datum { zero, seat } => self.set_zero(bench, zero, seat).await?,
            Deed::ReadAnew(capture) => self.read_anew(capture).await?,
            Deed::Turned(what) => {
                let note = self.written.len().is_multiple_of(2).then(|| "as advised".to_owned());
                self.happens(Event::Adjustment { adjustment: what.parse().unwrap(), note }).await?
            }
            Deed::TakenBack(deed) => {
                let capture = self.written[deed].id;
                self.happens(Event::Withdrawn { capture, reason: "the wrong stick".to_owned() }).await?
            }
            Deed::TakenUp(pause) => {
                let pause = Interruption {
                    model_moved: pause.moved,
                    clip_taken_off: pause.clip_off,
                    sensor_changed: pause.other_sensor,
                };
                self.happens(Event::Resumed { pause, note: "after the night".to_owned() }).await?
            }
            Deed::LeftOut { what, day } => {
                self.happens(Event::Skipped { cell: what.parse().unwrap(), reason: reason(day) }).await?
            }
            Deed::Cable { pull } => self.check_cable(pull).await?,
            Deed::Spindle(turned) => self.happens(Event::Spindle { check: spindle(turned) }).await?,
            Deed::Swept { axis, place, moves } => self.sweep(bench, axis, place, moves).await?,
        };
        self.written.push(written);
        Ok(())
    }

    /// Captures; what is asked for a neutral is kept all the same, as earlier records hold it.
    async fn capture(&self, bench: &mut Bench, shot: Shot, lacks: bool) -> Result<Written, LogbookError> {
        let (taken, truth) = bench.read(&shot.wish).await;
        let mut open = self.open().await;
        let draft = open.draft(&order(&shot.wish), &taken, &bench.instrument, "bench").unwrap();
        let asks = match draft.question() {
            Some(Question::NoNeutral { .. }) => true,
            None => false,
            Some(other) => panic!("{other:?} about {}", shot.wish),
        };
        assert_eq!(asks, lacks, "whether its neutral is asked for before {}", shot.wish);
        let kept = draft.capture.clone();
        open.keep(draft).await.map_err(|error| match error {
            KeepError::Logbook(error) => error,
            KeepError::Entry(error) => panic!("{}: {error}", shot.wish),
        })?;
        assert_eq!(kept.seat, shot.seat, "the seat of {}", shot.wish);
        let zero = shot.datum.map_or(Uuid::nil(), |at| self.written[at].id);
        assert_eq!(kept.datum.id, zero, "the zero of {}", shot.wish);
        let truth = truth - shot.datum.map_or(0.0, |at| self.written[at].truth);
        let angle = kept.reading.angle.degrees();
        let claimed = kept.reading.budget.expanded().expanded.degrees();
        let within = 2.5 * claimed.max(0.05);
        assert!((angle - truth).abs() < within, "{}: read {angle}, truth {truth}, U {claimed}", shot.wish);
        let slope = kept.reading.span_inclination.degrees();
        Ok(Written { id: kept.id, angle, truth, slope, ..Written::default() })
    }

    /// Reads what cannot be read against a zero of another place.
    pub async fn is_refused(&self, bench: &mut Bench, wish: &Wish) -> bool {
        let (taken, _) = bench.read(wish).await;
        let draft = self.open().await.draft(&order(wish), &taken, &bench.instrument, "bench");
        matches!(draft, Err(EvaluateError::Datum(DatumError::OtherPlace(_))))
    }

    async fn set_zero(&self, bench: &mut Bench, zero: Zero, seat: Option<u32>) -> Result<Written, LogbookError> {
        let (datum, truth) = match zero {
            Zero::Gravity => (Datum::Gravity, 0.0),
            Zero::Surface => {
                let (slope, u) = (Angle::from_degrees(0.4), Angle::from_degrees(0.03));
                (Datum::Reversal { instrument: Default::default(), slope, u }, 0.0)
            }
            Zero::Neutral(place, forward) => bench.neutral(place, forward).await,
        };
        let set = self.open().await.set_zero(datum, None, None).await?;
        assert_eq!(set.seat, seat, "the seat of the zero");
        Ok(Written { id: set.id, truth, ..Written::default() })
    }

    /// Today's filter sees it a little otherwise, and so much further from the truth.
    async fn read_anew(&mut self, at: usize) -> Result<Written, LogbookError> {
        const OTHERWISE: f64 = 0.01;
        let open = self.open().await;
        let newest = open.newest_readings().into_iter().find(|capture| capture.id == self.written[at].id);
        let mut capture = newest.expect("what was captured is there").clone();
        capture.reading.angle += Angle::from_degrees(OTHERWISE);
        let angle = capture.reading.angle.degrees();
        let event = Event::Recomputed { note: "today's filter".to_owned(), captures: vec![capture] };
        let written = self.happens(event).await?;
        self.written[at].angle = angle;
        self.written[at].truth += OTHERWISE;
        Ok(written)
    }

    async fn check_cable(&self, pull: i32) -> Result<Written, LogbookError> {
        let (lifted, angle) = (Angle::ZERO, f64::from(pull) / 100.0);
        let check = CableCheck {
            blade: BladeName::A,
            station: Station::from_degrees(90.0).unwrap(),
            lifted,
            slack: lifted + Angle::from_degrees(angle),
            u_repeat: Angle::from_degrees(0.01),
        };
        Ok(Written { angle, truth: angle, ..self.happens(Event::Cable { check }).await? })
    }

    async fn sweep(
        &self,
        bench: &mut Bench,
        axis: &str,
        place: Place,
        moves: [Move; 2],
    ) -> Result<Written, LogbookError> {
        let names: Vec<&str> = ENDS.into_iter().filter(|end| end.starts_with(axis)).collect();
        let mut reached = [0.0; 2];
        let mut ends = Vec::new();
        for ((name, how), reached) in names.into_iter().zip(moves).zip(&mut reached) {
            let whole = bench.travel(name, place);
            *reached = match how {
                Move::AsBefore | Move::Buzzing => whole,
                Move::Short => 0.6 * whole,
                Move::Far => 1.4 * whole,
                Move::Still => 0.4,
            };
            let came = Angle::from_degrees(*reached);
            let still = Swept::still(name.parse().unwrap());
            ends.push(Swept { furthest: came, held: Some(came), buzzes: how == Move::Buzzing, ..still });
        }
        let (blade, spot) = spot(place);
        Ok(Written { reached, ..self.happens(Event::Swept { sweep: Sweep { blade, spot, ends } }).await? })
    }

    async fn happens(&self, event: Event) -> Result<Written, LogbookError> {
        let mut open = self.open().await;
        open.happened(event).await?;
        let id = open.entries().last().expect("what happened is there").id;
        Ok(Written { id, ..Written::default() })
    }
}

fn spindle(turned: Turned) -> SpindleCheck {
    const U: f64 = 0.007;
    let angle = Angle::from_degrees;
    let read: Vec<_> = turned.slopes().map(|(seat, slope)| (seat, angle(slope), angle(U))).collect();
    let (blade, station) = (turned.blade.to_string().parse().unwrap(), Station::from_degrees(90.0).unwrap());
    let check = SpindleCheck::new(blade, station, &read).unwrap();
    if turned.marked { check } else { SpindleCheck { quarters: None, ..check } }
}

/// Why something was left out.
pub fn reason(day: u8) -> String {
    format!("no time for it on day {day}")
}
