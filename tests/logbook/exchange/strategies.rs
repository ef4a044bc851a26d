//! Any setup there can be: every kind of entry, every kind of datum, numbers of every size.
//!
//! The larger strategies are boxed: all of them together would be too much for a test's stack.

use clinoblade::filter::{EndedBy, Vibration};
use clinoblade::record::{Adjustment, Amendment, Blades, Replaced, Teeth};
use clinoblade::record::{
    Answered, Approach, CableCheck, Capture, DatumRef, Ends, Entry, Event, Head, Interruption, LimitedBy, RawSamples,
    Reading, SensorIdentity, Setup, SpindleCheck, Subject, Sweep, Swept,
};
use clinoblade::rotor::{
    Axis, BladeName, Carrier, Clip, Datum, Deflection, InstrumentError, LeadingEdge, Place, Rotation, ShaftTilt, Spot,
    Station,
};
use clinoblade::uncertainty::{Budget, Component, Contribution, Freedom, Remedy, Source};
use clinoblade::units::{Angle, BladeVector, Celsius, HalfTurns, Hertz, Percent, Sample, Seconds};
use jiff::Timestamp;
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use uuid::Uuid;

/// A number that JSON can write: of every size, down to the smallest and up to the largest, and the two zeros.
fn number() -> impl Strategy<Value = f64> {
    use proptest::num::f64::{NEGATIVE, NORMAL, POSITIVE, SUBNORMAL, ZERO};
    prop_oneof![-200.0..200.0, POSITIVE | NEGATIVE | NORMAL | SUBNORMAL | ZERO]
}

/// Any bits at all: not a number and without end among them.
fn bits() -> impl Strategy<Value = f64> {
    prop_oneof![any::<i32>().prop_map(f64::from), any::<u64>().prop_map(f64::from_bits)]
}

fn angle() -> impl Strategy<Value = Angle> {
    let any = number().prop_filter("an angle", |radians| radians.abs() < 17.0);
    prop_oneof![4 => (-4.0..4.0).prop_map(Angle::from_radians), 1 => any.prop_map(Angle::from_radians)]
}

fn text() -> impl Strategy<Value = String> {
    let written = |text: String| text.replace(|letter: char| letter.is_control() && !"\t\n\r".contains(letter), "0");
    prop_oneof!["[ -~]{0,20}", "\\PC{0,20}", any::<String>()].prop_map(written)
}

fn day() -> impl Strategy<Value = jiff::civil::Date> {
    moment().prop_map(|moment| jiff::tz::TimeZone::UTC.to_datetime(moment).date())
}

fn moment() -> impl Strategy<Value = Timestamp> {
    (0_i128..4_000_000_000_000_000_000).prop_map(|nanoseconds| Timestamp::from_nanosecond(nanoseconds).unwrap())
}

fn id() -> impl Strategy<Value = Uuid> {
    any::<u128>().prop_map(Uuid::from_u128)
}

fn blade() -> impl Strategy<Value = BladeName> {
    (0..BladeName::MOST).prop_map(|index| BladeName::from_index(index).unwrap())
}

fn station() -> impl Strategy<Value = Station> {
    (0.0..359.99).prop_map(|degrees| Station::from_degrees(degrees).unwrap())
}

fn clip() -> impl Strategy<Value = Clip> {
    prop_oneof![Just(Clip::Forward), Just(Clip::Reversed)]
}

fn edge() -> impl Strategy<Value = LeadingEdge> {
    prop_oneof![Just(LeadingEdge::Up), Just(LeadingEdge::Down)]
}

fn deflection() -> impl Strategy<Value = Deflection> {
    let named = prop::sample::select(vec![
        "elevator up",
        "elevator neutral",
        "elevator down",
        "aileron left",
        "aileron neutral",
        "aileron right",
        "rudder left",
        "rudder neutral",
        "rudder right",
        "collective low",
        "collective mid",
        "collective high",
        "corner low down-left",
        "corner mid right",
        "corner high up",
        "corner high up-right",
    ]);
    prop_oneof![
        4 => named.prop_map(|name| name.parse().unwrap()),
        1 => (0.0..=100.0).prop_map(|percent| format!("collective {percent}%").parse().unwrap()),
    ]
}

fn subject() -> impl Strategy<Value = Subject> {
    // A head has at most five.
    let blade = (0..5_usize).prop_map(|index| BladeName::from_index(index).unwrap());
    (deflection(), blade, station(), edge()).prop_map(|(deflection, blade, station, edge)| {
        let spot = if deflection.axis() == Axis::Rudder { Spot::Tail(edge) } else { Spot::Main(station) };
        Subject::new(deflection, blade, spot).unwrap()
    })
}

fn spot() -> impl Strategy<Value = Spot> {
    prop_oneof![station().prop_map(Spot::Main), edge().prop_map(Spot::Tail)]
}

fn vector() -> impl Strategy<Value = BladeVector> {
    (number(), number(), number()).prop_map(|(span, chord, normal)| BladeVector { span, chord, normal })
}

fn instrument() -> impl Strategy<Value = InstrumentError> {
    (angle(), angle()).prop_map(|(chord, span)| InstrumentError { chord, span })
}

fn datum() -> impl Strategy<Value = Datum> {
    let place = (blade(), spot(), clip()).prop_map(|(blade, spot, clip)| Place { blade, spot, clip });
    let tilt = (angle(), angle()).prop_map(|(nose, left)| ShaftTilt { nose, left });
    let rotation = prop_oneof![Just(Rotation::Clockwise), Just(Rotation::Anticlockwise)];
    prop_oneof![
        Just(Datum::Gravity),
        (vector(), station(), option::of(instrument()), angle())
            .prop_map(|(up, heading, instrument, u)| Datum::Surface { up, heading, instrument, u }),
        (instrument(), angle(), angle()).prop_map(|(instrument, slope, u)| Datum::Reversal { instrument, slope, u }),
        (angle(), place, angle()).prop_map(|(apparent, place, u)| Datum::Neutral { apparent, place, u }),
        (tilt, rotation, option::of(angle()), angle()).prop_map(|(tilt, rotation, clip_offset, u)| Datum::Shaft {
            tilt,
            rotation,
            clip_offset,
            u
        }),
    ]
}

fn carrier() -> impl Strategy<Value = Option<Carrier>> {
    option::of(prop_oneof![Just(Carrier::Tail), Just(Carrier::Main(BladeName::A))])
}

prop_compose! {
    fn datum_ref()(id in id(), set_at in moment(), datum in datum().boxed(), temperature in option::of(number()),
                   seat in option::of(any::<u32>()), carrier in carrier()) -> DatumRef {
        DatumRef { id, set_at, datum, temperature: temperature.map(Celsius::new), seat, carrier }
    }
}

fn contribution() -> impl Strategy<Value = Contribution> {
    use Component::{Azimuth, Calibration, Clip, Closure, Datum, Repeat, Roll, Shape, Skew, Temperature};
    let component =
        prop::sample::select(vec![Repeat, Calibration, Datum, Clip, Skew, Azimuth, Roll, Temperature, Closure, Shape]);
    let freedom = prop_oneof![Just(Freedom::INFINITE), number().prop_map(Freedom::new)];
    let remedy = prop_oneof![Just(Remedy::HoldLonger), Just(Remedy::SeatStudy), text().prop_map(Remedy::AsWritten)];
    (component, vec(angle(), 0..4), freedom, any::<bool>(), remedy, option::of(text())).prop_map(
        |(component, effects, freedom, assumed, shrink, source)| {
            let source = source.map(Source::new);
            Contribution { component, effects, freedom, assumed, shrink, source }
        },
    )
}

prop_compose! {
    fn counted()(samples in any::<u64>(), dropped_samples in any::<u64>(), damaged_frames in any::<u64>(),
                 lost_samples in any::<u64>(), effective_samples in number(), settled_at in number(),
                 finished_at in number(), observability in number(),
                 ended_by in prop::sample::select(vec![EndedBy::Want, EndedBy::Time, EndedBy::Floor, EndedBy::End]))
                -> Reading {
        Reading {
            angle: Angle::ZERO,
            apparent_pitch: Angle::ZERO,
            span_inclination: Angle::ZERO,
            up: BladeVector::default(),
            budget: Budget::default(),
            samples,
            effective_samples,
            dropped_samples,
            damaged_frames,
            lost_samples,
            settled_at: Seconds::new(settled_at),
            finished_at: Seconds::new(finished_at),
            steady: true,
            ended_by,
            observability,
            vibration: None,
            asked: None,
            temperature: None,
        }
    }
}

prop_compose! {
    fn reading()(counted in counted().boxed(), angle in angle(), apparent_pitch in angle(), span_inclination in angle(),
                 up in vector(), budget in vec(contribution().boxed(), 0..4), vibration in option::of((number(), self::angle())),
                 temperature in option::of(number())) -> Reading {
        let vibration =
            vibration.map(|(hertz, amplitude)| Vibration { frequency: Hertz::new(hertz), amplitude });
        let temperature = temperature.map(Celsius::new);
        Reading { angle, apparent_pitch, span_inclination, up, budget: Budget::new(budget), vibration, temperature, ..counted }
    }
}

prop_compose! {
    fn capture()(id in id(), taken_at in moment(), subject in subject().boxed(), clip in clip(), seat in any::<u32>(),
                 (stick, stick_said) in (-100.0..=100.0, any::<bool>()), bound in any::<bool>(), (accepted, answered) in (any::<bool>(), vec(answered(), 0..3)), reading in reading().boxed(),
                 approach in option::of(prop_oneof![Just(Approach::Below), Just(Approach::Above)]),
                 datum in datum_ref().boxed(), carrier in carrier(),
                 (profile, port, calibration, calibrated_on) in (text(), text(), option::of(text()), option::of(day()))) -> Capture {
        Capture {
            id,
            taken_at,
            subject,
            clip,
            seat,
            stick: Percent::new(stick),
            stick_said,
            limited_by: if bound { LimitedBy::Bind } else { LimitedBy::EndPoint },
            approach,
            reading,
            accepted,
            answered,
            datum,
            sensor: SensorIdentity { profile, port, calibration, carrier, calibrated_on },
        }
    }
}

fn answered() -> impl Strategy<Value = Answered> {
    prop::sample::select(vec![Answered::OtherWay, Answered::Unmoved, Answered::Buzzes, Answered::FallsShort])
}

fn adjustment() -> impl Strategy<Value = Adjustment> {
    let half_turns = || {
        let hundredths = -100_000..=100_000_i32;
        let turned = hundredths.prop_filter("turned at all", |turns| *turns != 0);
        turned.prop_map(|turns| HalfTurns::new(f64::from(turns) / 100.0))
    };
    let teeth = || option::of((-12..=12_i32).prop_filter("moved at all", |teeth| *teeth != 0).prop_map(Teeth::new));
    let percent = || number().prop_map(Percent::new);
    let axis = || prop::sample::select(vec![Axis::Elevator, Axis::Aileron, Axis::Rudder, Axis::Collective]);
    let end = prop::sample::select(vec!["elevator up", "aileron left", "rudder right", "collective low"]);
    let ends = prop_oneof![axis().prop_map(Ends::Both), end.prop_map(|end| Ends::One(end.parse().unwrap()))];
    prop_oneof![
        (blade(), half_turns()).prop_map(|(blade, half_turns)| Adjustment::Link { blade, half_turns }),
        (ends, (1.0..=200.0).prop_map(Percent::new)).prop_map(|(ends, output)| Adjustment::EndPoint { ends, output }),
        (any::<u8>(), half_turns()).prop_map(|(servo, half_turns)| Adjustment::SwashLink { servo, half_turns }),
        (any::<u8>(), teeth()).prop_map(|(servo, teeth)| Adjustment::ServoArm { servo, teeth }),
        any::<u8>().prop_map(|servo| Adjustment::Servo { servo }),
        (any::<u8>(), percent()).prop_map(|(servo, output)| Adjustment::SubTrim { servo, output }),
        angle().prop_map(Adjustment::Phase),
        percent().prop_map(Adjustment::CollectiveRange),
        percent().prop_map(Adjustment::CyclicRange),
        axis().prop_map(Adjustment::Reverse),
        half_turns().prop_map(|half_turns| Adjustment::TailRod { half_turns }),
        teeth().prop_map(|teeth| Adjustment::TailServoArm { teeth }),
        (axis(), percent()).prop_map(|(axis, output)| Adjustment::Trim { axis, output }),
        blade().prop_map(|blade| Adjustment::Grip { blade }),
        blade().prop_map(|blade| Adjustment::Blade { blade }),
        prop::sample::select(vec![
            Adjustment::TailServo,
            Adjustment::Mixing,
            Adjustment::Spindle,
            Adjustment::Shaft,
            Adjustment::Blades,
            Adjustment::TailBlades,
            Adjustment::Crash,
            Adjustment::Parts,
            "blades A and B exchanged".parse().unwrap(),
        ]),
    ]
}

fn event() -> impl Strategy<Value = Event> {
    let pause = any::<(bool, bool, bool)>().prop_map(|(model_moved, clip_taken_off, sensor_changed)| Interruption {
        model_moved,
        clip_taken_off,
        sensor_changed,
    });
    let quarters = option::of(std::array::from_fn::<_, 4, _>(|_| option::of(angle())));
    let check = (blade(), station(), angle(), angle(), angle(), quarters).prop_map(
        |(blade, station, before, after, u_repeat, quarters)| SpindleCheck {
            blade,
            station,
            before,
            after,
            u_repeat,
            quarters,
        },
    );
    let cable = (blade(), station(), angle(), angle(), angle())
        .prop_map(|(blade, station, lifted, slack, u_repeat)| CableCheck { blade, station, lifted, slack, u_repeat });
    let end = (deflection(), angle(), option::of(angle()), option::of(angle()), any::<bool>()).prop_map(
        |(deflection, furthest, held, returned, buzzes)| Swept { deflection, furthest, held, returned, buzzes },
    );
    let sweep = (blade(), spot(), vec(end, 0..3)).prop_map(|(blade, spot, ends)| Sweep { blade, spot, ends });
    prop_oneof![
        1 => cable.prop_map(|check| Event::Cable { check }),
        1 => sweep.prop_map(|sweep| Event::Swept { sweep }),
        4 => capture().boxed().prop_map(|capture| Event::Capture(Box::new(capture))),
        1 => (adjustment().boxed(), option::of(text())).prop_map(|(adjustment, note)| Event::Adjustment { adjustment, note }),
        1 => datum_ref().boxed().prop_map(|datum| Event::Datum { datum }),
        1 => (pause, text()).prop_map(|(pause, note)| Event::Resumed { pause, note }),
        1 => (text(), vec(capture().boxed(), 0..3)).prop_map(|(note, captures)| Event::Recomputed { note, captures }),
        1 => check.prop_map(|check| Event::Spindle { check }),
        1 => (id(), text()).prop_map(|(capture, reason)| Event::Withdrawn { capture, reason }),
        1 => (deflection(), text()).prop_map(|(deflection, reason)| Event::Skipped { cell: deflection.to_string().parse().unwrap(), reason }),
    ]
}

fn raw_samples() -> impl Strategy<Value = RawSamples> {
    let sample = (bits(), [bits(), bits(), bits()], any::<u32>(), option::of(bits())).prop_map(
        |(clock, counts, lost_before, temperature)| Sample {
            clock: Seconds::new(clock),
            counts,
            lost_before,
            temperature: temperature.map(Celsius::new),
        },
    );
    (bits(), vec(sample, 0..20)).prop_map(|(counts_per_g, samples)| RawSamples { counts_per_g, samples })
}

/// What is said of captures is said of those that are there, and on blades that the head has: no other setup is recorded.
pub fn belonging(setup: &mut Setup, entries: &mut Vec<(Entry, Option<RawSamples>)>) {
    let ids: Vec<Uuid> = entries.iter().filter(|(entry, _)| is_capture(entry)).map(|(entry, _)| entry.id).collect();
    let id = |at: usize| ids.get(at % ids.len().max(1)).copied();
    let (mut main, mut tail) = (setup.head.blades.get(), setup.head.tail.blades.get());
    let mut fits = |capture: &Capture| {
        let rotor = if matches!(capture.subject, Subject::Tail { .. }) { &mut tail } else { &mut main };
        *rotor = (*rotor).max(capture.subject.blade().index() as u8 + 1);
    };
    for (at, (entry, _)) in entries.iter_mut().enumerate() {
        match &mut entry.event {
            Event::Capture(capture) => fits(capture),
            Event::Withdrawn { capture, .. } => *capture = id(at).unwrap_or(*capture),
            Event::Recomputed { captures, .. } if ids.is_empty() => captures.clear(),
            Event::Recomputed { captures, .. } => captures.iter_mut().enumerate().for_each(|(at, capture)| {
                capture.id = id(at).unwrap();
                fits(capture);
            }),
            _ => {}
        }
    }
    entries.retain(|(entry, _)| !ids.is_empty() || !matches!(entry.event, Event::Withdrawn { .. }));
    setup.head.blades = main.try_into().unwrap();
    setup.head.tail.blades = tail.try_into().unwrap();
}

fn is_capture(entry: &Entry) -> bool {
    matches!(entry.event, Event::Capture(_))
}

/// An entry, with raw samples where it is a capture.
pub fn entry() -> impl Strategy<Value = (Entry, Option<RawSamples>)> {
    (id(), moment(), event().boxed(), option::weighted(0.8, raw_samples())).prop_map(|(id, at, event, raw)| match event
    {
        Event::Capture(capture) => (Entry::capture(*capture).unwrap(), raw),
        event => (Entry { id, at, event }, None),
    })
}

fn head() -> impl Strategy<Value = Head> {
    let band = (-90.0..90.0, 0.001..30.0).prop_map(|(target, tolerance): (f64, f64)| format!("{target} ± {tolerance}"));
    let ceiling = (0.001..1000.0).prop_map(|degrees: f64| format!("at most {degrees}"));
    let target = prop_oneof![band, ceiling];
    (text(), 2..=5_u8, -360.0..360.0, 0.0..30.0, 1.01..199.0, -360.0..360.0, vec(target, 3)).prop_map(
        |(name, blades, phase, station_error, arm, square, targets): (String, u8, f64, f64, f64, f64, Vec<String>)| {
            let head = serde_json::json!({
                "name": name, "rotation": "anticlockwise", "blades": blades, "control_phase_deg": phase,
                "station_error_deg": station_error,
                "link": { "pitch_arm_mm": arm, "thread": "M2.5", "seats": "full turn", "turnbuckle": true,
                          "lengthening": "raises", "square_at_deg": square },
                "tail": { "blades": 3, "positive": "right" },
                "targets": { "blade_zero": targets[0], "cyclic": targets[1], "collective_low": targets[2] },
            });
            serde_json::from_value(head).unwrap()
        },
    )
}

fn amendment() -> impl Strategy<Value = Amendment> {
    let replaced = prop_oneof![
        text().prop_map(Replaced::CheckedBy),
        text().prop_map(Replaced::MeasuredBy),
        number().prop_map(|celsius| Replaced::Temperature(Celsius::new(celsius))),
        text().prop_map(Replaced::Reason),
        prop_oneof![Just(Blades::On), Just(Blades::Off)].prop_map(Replaced::Blades),
    ];
    (moment(), replaced).prop_map(|(at, replaced)| Amendment { at, replaced })
}

prop_compose! {
    /// A setup, under any number.
    pub fn setup()(id in id(), head in head().boxed(), started_at in moment(), closed_at in option::of(moment()), reason in text(),
                   off in any::<bool>(), temperature in option::of(number()), measured_by in option::of(text()),
                   checked_by in option::of(text()), cautions_acknowledged_at in option::of(moment()),
                   amendments in vec(amendment(), 0..3), edited in any::<bool>()) -> Setup {
        Setup {
            id,
            number: 7,
            head,
            started_at,
            closed_at,
            reason,
            blades: if off { Blades::Off } else { Blades::On },
            temperature: temperature.map(Celsius::new),
            measured_by,
            checked_by,
            cautions_acknowledged_at,
            amendments,
            edited,
        }
    }
}
