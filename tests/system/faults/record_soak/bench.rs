//! The simulated head with one sensor on it, handled as a person does.

use super::step::{Place, Side, Wish};
use clinoblade::bench::{Circumstances, Instrument, Order, Session, Taken, evaluate};
use clinoblade::filter::SteadySettings;
use clinoblade::record::{Approach, LimitedBy, Subject};
use clinoblade::rig::Rig;
use clinoblade::rotor::{BladeName, Clip, Datum, Deflection, LeadingEdge, Rotation, Spot, Station};
use clinoblade::sensor::{Calibration, Covariance, Model};
use clinoblade::stream::{Options, Origin, Profile, SampleStream};
use clinoblade::units::{Angle, Percent, Seconds};
use std::io::Cursor;

/// The tail stands off its middle, so that its travel and its pitch are two things. Both blades hang alike, as blades do.
const SCENARIO: &str = "seed = 4\n[blades]\ndroop_deg = [-1.0, -1.0]\n[sensor]\nnoise_density_ug_rthz = 100.0\n\
    [tail]\nneutral_deg = 6.0\n";

pub struct Bench {
    rig: Rig,
    /// Seconds since the first step.
    pub now: f64,
    pub instrument: Instrument,
}

impl Bench {
    pub fn new() -> Self {
        // A perfect sensor, and known to be one to half a milligravity.
        let covariance = Covariance::identity() * 0.0005_f64.powi(2);
        let nominal = Calibration::nominal(16_384.0);
        let calibration = Calibration { name: "bench".into(), model: Model::Faces, covariance, ..nominal };
        Self {
            rig: Rig::new(SCENARIO.parse().unwrap()).unwrap(),
            now: 0.0,
            instrument: Instrument::new(Profile::sentence(), Some(calibration), Rotation::Clockwise),
        }
    }

    fn tell(&mut self, line: &str) {
        self.rig.command(line).unwrap_or_else(|error| panic!("{line}: {error}"));
    }

    fn advance(&mut self, seconds: f64) -> Vec<u8> {
        let mut bytes = Vec::new();
        self.now += seconds;
        self.rig.advance(Seconds::new(self.now), &mut bytes);
        bytes
    }

    /// Sets head, sticks and clip, and reads what the sensor sends then; beside it the true pitch of that blade.
    pub async fn read(&mut self, wish: &Wish) -> (Taken, f64) {
        loop {
            let read = self.read_once(wish).await;
            // Once in hundreds of readings chance makes a blade look restless that stands still, or finds a swing in the noise
            // where no servo buzzes: it is read again.
            if read.0.steady.steady && read.0.steady.vibration.is_none() {
                return read;
            }
        }
    }

    /// The zero that a blade makes at stick centre, and its true pitch there.
    pub async fn neutral(&mut self, place: Place, forward: bool) -> (Datum, f64) {
        let what = if matches!(place, Place::Tail { .. }) { "rudder neutral" } else { "elevator neutral" };
        let wish = Wish { what, place, forward, stick: 0.0, bound: false, again: false, from: None };
        let (taken, pitch) = self.read(&wish).await;
        let order = order(&wish);
        let place = order.subject.place(order.clip);
        let at = Circumstances {
            place: Some(place),
            clip: order.clip,
            datum: Datum::Gravity,
            datum_temperature: None,
            on_the_datums_seat: false,
        };
        let apparent = evaluate(&taken, &self.instrument, &at).unwrap().apparent_pitch;
        (Datum::Neutral { apparent, place, u: taken.steady.repeat }, pitch)
    }

    /// How far full stick moves that blade from its neutral, in truth.
    pub fn travel(&mut self, end: &'static str, place: Place) -> f64 {
        let centred = Wish { what: end, place, forward: true, stick: 0.0, bound: false, again: false, from: None };
        let deflection: Deflection = end.parse().unwrap();
        let [at_centre, at_end] = [0.0, deflection.full_stick().value()].map(|stick| {
            self.set(&Wish { stick, ..centred });
            self.advance(2.0);
            self.pitch(place)
        });
        (at_end - at_centre).abs()
    }

    fn pitch(&self, place: Place) -> f64 {
        let truth = self.rig.truth();
        let pitch = match place {
            Place::Main { blade, .. } => truth.blades[usize::from(blade == 'B')].pitch_deg,
            Place::Tail { blade, .. } => truth.tail[usize::from(blade == 'B')].pitch_deg,
        };
        pitch.degrees()
    }

    async fn read_once(&mut self, wish: &Wish) -> (Taken, f64) {
        self.set(wish);
        self.advance(2.0);
        let bytes = self.advance(1.6);
        let pitch = self.pitch(wish.place);
        let origin = Origin::Log("the simulated head".to_owned());
        let stream = SampleStream::from_reader(origin, Cursor::new(bytes), &Profile::sentence(), &Options::default());
        let session = Session::start(stream.unwrap(), self.instrument.clone());
        let settings = SteadySettings { want: Angle::from_degrees(0.08), ..SteadySettings::default() };
        let taken = session.read(settings).await.unwrap();
        session.end().await.unwrap();
        (taken, pitch)
    }

    fn set(&mut self, wish: &Wish) {
        let way = if wish.forward { "forward" } else { "reversed" };
        match wish.place {
            Place::Main { blade, station } => {
                self.tell(&format!("clip {blade} {way} over 0.1"));
                let of_a = if blade == 'A' { station } else { (station + 180.0).rem_euclid(360.0) };
                self.tell(&format!("head {of_a} over 0.1"));
            }
            Place::Tail { blade, up } => {
                self.tell(&format!("clip tail {blade} {way} over 0.1"));
                self.tell(&format!("tail {} over 0.1", if up { "up" } else { "down" }));
            }
        }
        for (axis, centre) in [("elevator", 0.0), ("aileron", 0.0), ("rudder", 0.0), ("collective", 50.0)] {
            let to = stick_of(wish, axis).unwrap_or(centre);
            self.tell(&format!("stick {axis} {to} over 0.1"));
        }
    }
}

/// Where the stick of an axis stands; none where it stays at its centre.
fn stick_of(wish: &Wish, axis: &str) -> Option<f64> {
    let Some(corner) = wish.what.strip_prefix("corner ") else {
        return wish.what.starts_with(axis).then_some(wish.stick);
    };
    let full = |words: [(&str, f64); 2]| {
        words.into_iter().find(|(way, _)| corner.split([' ', '-']).any(|word| word == *way)).map(|(_, full)| full)
    };
    match axis {
        "elevator" => full([("up", 1.0), ("down", -1.0)]).map(|way| way * wish.stick),
        "aileron" => full([("right", 1.0), ("left", -1.0)]).map(|way| way * wish.stick),
        "collective" => full([("high", 100.0), ("low", 0.0)]),
        _ => None,
    }
}

/// The blade and its place in the program's terms.
pub fn spot(place: Place) -> (BladeName, Spot) {
    let (blade, spot) = match place {
        Place::Main { blade, station } => (blade, Spot::Main(Station::from_degrees(station).unwrap())),
        Place::Tail { blade, up } => (blade, Spot::Tail(if up { LeadingEdge::Up } else { LeadingEdge::Down })),
    };
    (blade.to_string().parse().unwrap(), spot)
}

/// The wish in the program's terms.
pub fn order(wish: &Wish) -> Order {
    let deflection: Deflection = wish.what.parse().unwrap();
    let (blade, spot) = spot(wish.place);
    Order {
        subject: Subject::new(deflection, blade, spot).unwrap(),
        clip: if wish.forward { Clip::Forward } else { Clip::Reversed },
        stick: Percent::new(wish.stick),
        // Whoever backs off from full stick does not say to where.
        stick_said: !wish.bound,
        limited_by: if wish.bound { LimitedBy::Bind } else { LimitedBy::EndPoint },
        approach: wish.from.map(|from| match from {
            Side::Below => Approach::Below,
            Side::Above => Approach::Above,
        }),
        reseated: wish.again,
    }
}
