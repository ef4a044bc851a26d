//! The rotor solution against readings made by rotation matrices, an independent path: no formula of the solution
//! stands in the generator.

use clinoblade::rotor::{
    BladeName, Clip, Datum, Estimate, ReadingUncertainty, Readings, Rotation, RotorReading, RotorSolution, ShaftTilt,
    Station, Unknown, solve,
};
use clinoblade::units::Angle;
use std::collections::BTreeMap;
use support::rotor::{Dice, Head, head};

fn solved(readings: &[RotorReading], rotation: Rotation) -> RotorSolution {
    let solution = solve(readings, rotation).unwrap();
    assert_eq!(solution.unobservable(), [], "{:?}", solution.estimates);
    assert!(solution.suggestions.is_empty());
    solution
}

#[test]
fn the_frames_of_the_library_hold_against_rotation_matrices() {
    use clinoblade::rotor::Attitude;
    let mut dice = Dice(5);
    let mut worst = 0.0f64;
    for _ in 0..2000 {
        let head = Head { clip_offset: 0.0, clip_span_offset: 0.0, ..Head::drawn(&mut dice, 1) };
        let azimuth = 180.0 * (1.0 + dice.roll());
        let (nose, left) = head.lean();
        let tilt = ShaftTilt { nose: Angle::from_degrees(nose), left: Angle::from_degrees(left) };
        let (sin, cos) = azimuth.to_radians().sin_cos();
        let attitude = Attitude {
            flap: Angle::from_degrees(head.blades[0].1),
            feather: Angle::from_degrees(head.blades[0].0 + head.cos * cos + head.sin * sin),
        };
        let up = attitude.to_blade(tilt.up().at(Station::from_degrees(azimuth).unwrap(), head.rotation));
        let (apparent, span) = head.read(0, azimuth, Clip::Forward);
        let off = (up.apparent_pitch().degrees() - apparent).abs().max((up.span_inclination().degrees() - span).abs());
        worst = worst.max(off);
    }
    println!("frames against rotation matrices: {worst:.1e}° at most");
    assert!(worst < 1e-11, "{worst:e}");
}

#[test]
fn readings_without_noise_come_back_exactly() {
    let mut dice = Dice(20_261_125);
    let (mut worst, mut solutions) = (0.0f64, 0);
    for blades in [1, 2, 3, 4, 5] {
        for turn_clip in [false, true] {
            for _ in 0..60 {
                let head = head(&mut dice, blades, turn_clip);
                let readings = head.survey(&mut dice, turn_clip);
                let solution = solved(&readings, head.rotation);
                for (unknown, estimate) in &solution.estimates {
                    let off = (estimate.value.degrees() - head.truth(*unknown, turn_clip)).abs();
                    assert!(off < 1e-8, "{unknown} off by {off:e} on {head:?}");
                    worst = worst.max(off);
                }
                assert!(solution.residual_rms.degrees() < 1e-9);
                solutions += 1;
            }
        }
    }
    println!("{solutions} heads without noise: {worst:.1e}° at most");
}

/// RMS of error over standard error, over all unknowns of many heads.
fn rms_ratio(seed: u64, with_u: bool, turn_clip: bool) -> f64 {
    let mut dice = Dice(seed);
    let (mut squares, mut count) = (0.0, 0);
    for case in 0..250 {
        let head = head(&mut dice, 2 + case % 4, turn_clip);
        let mut readings = head.survey(&mut dice, turn_clip);
        let (u_apparent, u_span) = if with_u { (0.03, 0.08) } else { (0.05, 0.05) };
        for reading in &mut readings {
            reading.apparent += Angle::from_degrees(u_apparent * dice.normal());
            reading.span += Angle::from_degrees(u_span * dice.normal());
            if with_u {
                let u = ReadingUncertainty {
                    apparent: Angle::from_degrees(u_apparent),
                    span: Angle::from_degrees(u_span),
                    station: Angle::ZERO,
                };
                reading.u = Some(u);
            }
        }
        let solution = solved(&readings, head.rotation);
        for (unknown, estimate) in &solution.estimates {
            let error = estimate.value.degrees() - head.truth(*unknown, turn_clip);
            squares += (error / estimate.standard_error.degrees()).powi(2);
            count += 1;
        }
    }
    (squares / f64::from(count)).sqrt()
}

#[test]
fn the_errors_of_noisy_readings_are_as_large_as_their_standard_errors_say() {
    for (with_u, turn_clip) in [(true, false), (true, true), (false, false), (false, true)] {
        let ratio = rms_ratio(77, with_u, turn_clip);
        println!("rms(error / standard error) {ratio:.3} (uncertainties given: {with_u}, clip turned: {turn_clip})");
        assert!((0.9..1.1).contains(&ratio), "{ratio}");
    }
}

/// Blades that stand 3° off their stations, one standard deviation: the errors that this makes are in the standard errors.
#[test]
fn the_errors_of_stations_set_by_eye_are_as_large_as_the_standard_errors_say() {
    let ratio = |u_station: f64| {
        let (mut squares, mut count, mut dice) = (0.0, 0, Dice(83));
        for case in 0..250 {
            let head = head(&mut dice, 2 + case % 4, false);
            let readings: Vec<RotorReading> = head
                .survey(&mut dice, false)
                .into_iter()
                .map(|read| {
                    let stood = f64::from(read.station) + 3.0 * dice.normal();
                    let noisy = |angle: Angle, dice: &mut Dice| angle + Angle::from_degrees(0.03 * dice.normal());
                    let off = head.reading(read.blade.index(), stood, read.clip);
                    let own = Angle::from_degrees(0.03);
                    let u = ReadingUncertainty { apparent: own, span: own, station: Angle::from_degrees(u_station) };
                    let (apparent, span) = (noisy(off.apparent, &mut dice), noisy(off.span, &mut dice));
                    RotorReading { apparent, span, u: Some(u), ..read }
                })
                .collect();
            let solution = solved(&readings, head.rotation);
            for (unknown, estimate) in &solution.estimates {
                let error = estimate.value.degrees() - head.truth(*unknown, false);
                squares += (error / estimate.standard_error.degrees()).powi(2);
                count += 1;
            }
        }
        (squares / f64::from(count)).sqrt()
    };
    let (told, untold) = (ratio(3.0), ratio(0.0));
    println!("rms(error / standard error) {told:.3} with what the stations are uncertain by, {untold:.3} without");
    assert!((0.85..1.15).contains(&told), "{told}");
    // The misfit widens some of it, and not all.
    assert!(untold > told + 0.1, "{untold}");
}

#[test]
fn a_helicopter_four_degrees_out_of_level_gives_both_collectives_and_the_split() {
    let head = Head {
        rotation: Rotation::Clockwise,
        pitched: 2.0,
        rolled: -3.5,
        cos: 1.2,
        sin: -0.7,
        clip_offset: 0.0,
        clip_span_offset: 0.0,
        blades: vec![(0.4, -2.0), (-0.3, -2.3)],
    };
    let readings: Vec<RotorReading> = [0.0, 90.0, 180.0, 270.0]
        .iter()
        .flat_map(|&a| [head.reading(0, a, Clip::Forward), head.reading(1, a, Clip::Forward)])
        .collect();
    let solution = solved(&readings, head.rotation);
    let split = solution.blades[1].split.unwrap();
    assert!((split.value.degrees() - 0.7).abs() < 1e-9);
    let (amplitude, azimuth) = solution.swash().unwrap();
    assert!((amplitude.degrees() - 1.2f64.hypot(0.7)).abs() < 1e-9);
    assert!((azimuth.degrees() - (360.0 + (-0.7f64).atan2(1.2).to_degrees())).abs() < 1e-6);
    // What it foretells at a station that was never read is what would be read there.
    let (apparent, span) = solution.foretell(BladeName::A, Station::from_degrees(37.0).unwrap(), Clip::Forward);
    let (true_apparent, true_span) = head.read(0, 37.0, Clip::Forward);
    assert!((apparent.degrees() - true_apparent).abs() < 1e-9 && (span.degrees() - true_span).abs() < 1e-9);
}

fn names(solution: &RotorSolution) -> Vec<String> {
    solution.unobservable().iter().map(Unknown::to_string).collect()
}

#[test]
fn the_two_stations_along_the_boom_alone_are_refused_by_name() {
    let mut dice = Dice(31);
    for case in 0..200 {
        let blades = 1 + case % 4;
        let turn_clip = case % 3 == 0;
        let head = head(&mut dice, blades, turn_clip);
        let noise = if case % 2 == 0 { 0.05 } else { 0.0 };
        let mut readings = Vec::new();
        for blade in 0..blades {
            for azimuth in [0.0, 180.0] {
                for clip in [Clip::Forward, Clip::Reversed].into_iter().take(if turn_clip { 2 } else { 1 }) {
                    let mut reading = head.reading(blade, azimuth, clip);
                    reading.apparent += Angle::from_degrees(noise * dice.normal());
                    reading.span += Angle::from_degrees(noise * dice.normal());
                    if noise > 0.0 && case % 4 == 0 {
                        let u = Angle::from_degrees(noise);
                        reading.u = Some(ReadingUncertainty { apparent: u, span: u, station: Angle::ZERO });
                    }
                    readings.push(reading);
                }
            }
        }
        let solution = solve(&readings, head.rotation).unwrap();
        let unobservable = names(&solution);
        for name in ["left_deg", "cos_deg", "sin_deg"] {
            assert!(unobservable.iter().any(|n| n == name), "case {case}: {unobservable:?}, {head:?}");
        }
        let station = f64::from(solution.suggestions[0].station);
        assert!(station == 90.0 || station == 270.0, "case {case}: {station}");
        let document = solution.document(true);
        assert!(document["swash"]["cos_deg"].is_null() && document["shaft_tilt"]["left_deg"].is_null());
    }
}

#[test]
fn the_suggested_readings_make_everything_observable() {
    let mut dice = Dice(37);
    let poor: [&[(usize, f64, Clip)]; 5] = [
        &[(0, 0.0, Clip::Forward)],
        &[(0, 90.0, Clip::Forward), (0, 270.0, Clip::Forward)],
        &[(0, 0.0, Clip::Forward), (1, 180.0, Clip::Forward)],
        &[(0, 0.0, Clip::Forward), (0, 90.0, Clip::Forward), (0, 180.0, Clip::Forward), (1, 0.0, Clip::Reversed)],
        &[(0, 0.0, Clip::Forward), (0, 5.0, Clip::Forward), (0, 10.0, Clip::Forward)],
    ];
    for set in poor {
        let head = head(&mut dice, 2, true);
        let mut readings: Vec<RotorReading> = set.iter().map(|&(b, a, c)| head.reading(b, a, c)).collect();
        let before = solve(&readings, head.rotation).unwrap();
        assert!(!before.unobservable().is_empty(), "{set:?}");
        assert!(!before.suggestions.is_empty(), "{set:?}");
        for s in &before.suggestions {
            readings.push(head.reading(s.blade.index(), f64::from(s.station), s.clip));
        }
        let after = solve(&readings, head.rotation).unwrap();
        assert_eq!(names(&after), [""; 0], "{set:?} with {:?}", before.suggestions);
    }
}

#[test]
fn a_split_at_one_station_is_told_even_where_the_collectives_are_not() {
    let mut dice = Dice(41);
    let head = Head { pitched: 0.0, rolled: 0.0, ..head(&mut dice, 2, false) };
    let readings = [head.reading(0, 90.0, Clip::Forward), head.reading(1, 90.0, Clip::Forward)];
    let solution = solve(&readings, head.rotation).unwrap();
    assert!(solution.blades[0].collective.known().is_none());
    let split = solution.blades[1].split.unwrap();
    assert!(split.observable, "{split:?}");
    assert!((split.value.degrees() - (head.blades[0].0 - head.blades[1].0)).abs() < 0.05, "{split:?}");
}

#[test]
fn a_misread_station_shows_as_a_misfit_and_widens_the_errors() {
    let mut dice = Dice(43);
    let head = head(&mut dice, 2, false);
    let u = ReadingUncertainty {
        apparent: Angle::from_degrees(0.03),
        span: Angle::from_degrees(0.03),
        station: Angle::ZERO,
    };
    let survey = |wrong: bool| {
        let mut readings: Vec<RotorReading> = [0.0, 60.0, 120.0, 180.0, 240.0, 300.0]
            .iter()
            .flat_map(|&a| [head.reading(0, a, Clip::Forward), head.reading(1, a, Clip::Forward)])
            .map(|reading| RotorReading { u: Some(u), ..reading })
            .collect();
        if wrong {
            readings[2].station = Station::from_degrees(80.0).unwrap();
        }
        solve(&readings, head.rotation).unwrap()
    };
    let (right, wrong) = (survey(false), survey(true));
    assert!(!right.misfit && wrong.misfit);
    let error = |s: &RotorSolution| s.get(Unknown::Nose).unwrap().standard_error.degrees();
    assert!(error(&wrong) > 5.0 * error(&right));
    let worst = wrong.residuals.iter().map(|r| r.apparent.degrees().hypot(r.span.degrees())).fold(0.0, f64::max);
    assert_eq!(worst, wrong.residuals[2].apparent.degrees().hypot(wrong.residuals[2].span.degrees()));
}

#[test]
fn a_table_in_and_a_document_out() {
    let mut dice = Dice(47);
    let head = head(&mut dice, 3, true);
    let mut table = format!("# rotation={}\nblade,station_deg,clip,apparent_deg,span_deg\n", head.rotation);
    for blade in 0..3 {
        for azimuth in [0.0, 120.0, 240.0] {
            for clip in [Clip::Forward, Clip::Reversed] {
                let (apparent, span) = head.read(blade, azimuth, clip);
                table += &format!("{},{azimuth},{clip},{apparent:.12},{span:.12}\n", blade + 1);
            }
        }
    }
    let readings = Readings::from_csv(&table, None).unwrap();
    let document = solve(&readings.readings, readings.rotation).unwrap().document(readings.numbered);
    let number = |value: &serde_json::Value| value.as_f64().unwrap();
    assert_eq!(document["blades"][2]["blade"], 3);
    assert!((number(&document["blades"][2]["droop_deg"]) - head.blades[2].1).abs() < 1e-9);
    assert!((number(&document["track_split_deg"]) - (head.blades[0].0 - head.blades[1].0)).abs() < 1e-9);
    assert!((number(&document["clip_span_offset_deg"]) - head.clip_span_offset).abs() < 1e-9);
    assert_eq!(document["unobservable"].as_array().unwrap().len(), 0);
    assert_eq!(document["suggest"].as_array().unwrap().len(), 0);
    for name in ["nose_deg", "left_deg", "cos_deg", "sin_deg", "clip_offset_deg", "collective_deg[1]", "droop_deg[3]"] {
        assert!(document["standard_errors"][name].as_f64().unwrap() < 1e-9, "{name}");
    }
    assert!(number(&document["residual_rms_deg"]) < 1e-11);
    assert!(number(&document["condition"]) >= 1.0);
}

#[test]
fn a_clip_that_was_never_turned_has_no_offset_in_the_document() {
    let mut dice = Dice(53);
    let head = head(&mut dice, 2, false);
    let readings = head.survey(&mut dice, false);
    let document = solved(&readings, head.rotation).document(false);
    assert!(document["clip_offset_deg"].is_null());
    assert!(document["standard_errors"]["clip_offset_deg"].is_null());
    assert_eq!(document["blades"][1]["blade"], "B");
    assert_eq!(document["unobservable"].as_array().unwrap().len(), 0);
}

/// Error over standard error of what is told although something else is hidden, root mean square over many heads.
fn error_over_standard_error(
    stations: &[f64],
    blades: usize,
    noise: f64,
    with_u: bool,
) -> BTreeMap<String, (f64, usize)> {
    let mut dice = Dice(61);
    let u = ReadingUncertainty {
        apparent: Angle::from_degrees(noise),
        span: Angle::from_degrees(noise),
        station: Angle::ZERO,
    };
    let mut sums: BTreeMap<String, (f64, usize)> = BTreeMap::new();
    for _ in 0..60 {
        let head = Head { clip_offset: 0.0, clip_span_offset: 0.0, ..Head::drawn(&mut dice, blades) };
        let noisy = |dice: &mut Dice, reading: RotorReading| RotorReading {
            apparent: reading.apparent + Angle::from_degrees(noise * dice.normal()),
            span: reading.span + Angle::from_degrees(noise * dice.normal()),
            u: with_u.then_some(u),
            ..reading
        };
        let places = stations.iter().flat_map(|&at| (0..blades).map(move |blade| (blade, at)));
        let readings: Vec<RotorReading> =
            places.map(|(blade, at)| noisy(&mut dice, head.reading(blade, at, Clip::Forward))).collect();
        let solution = solve(&readings, head.rotation).unwrap();
        let mut add = |name: String, found: Estimate, truth: f64| {
            if found.observable {
                let sum = sums.entry(name).or_default();
                sum.0 += ((found.value.degrees() - truth) / found.standard_error.degrees()).powi(2);
                sum.1 += 1;
            }
        };
        for (unknown, estimate) in &solution.estimates {
            add(unknown.to_string(), *estimate, head.truth(*unknown, false));
        }
        for (k, blade) in solution.blades.iter().enumerate().skip(1) {
            add("split".to_owned(), blade.split.unwrap(), head.blades[0].0 - head.blades[k].0);
        }
    }
    sums.into_iter().map(|(name, (sum, n))| (name, ((sum / n as f64).sqrt(), n))).collect()
}

/// Where the stations leave something hidden, what is still told is told with an error that holds: with uncertainties in
/// the table and without.
#[test]
fn what_is_told_beside_something_hidden_has_a_standard_error_that_holds() {
    for with_u in [true, false] {
        for stations in [&[90.0][..], &[0.0, 180.0], &[90.0, 270.0], &[0.0, 90.0]] {
            for blades in [2, 3] {
                let ratios = error_over_standard_error(stations, blades, 0.05, with_u);
                println!("{stations:?} {blades} blades, u {with_u}: {ratios:.2?}");
                for (name, (ratio, n)) in ratios {
                    assert!(
                        n < 20 || (0.45..1.35).contains(&ratio),
                        "{name} at {stations:?}, {blades} blades, u {with_u}: {ratio:.2} of {n}"
                    );
                }
            }
        }
    }
}

/// Six stations of one blade leave six degrees of freedom. Errors over s·√diag then follow Student's distribution, whose standard
/// deviation is √(6/4) = 1.22 (JCGM 101:2008, 6.4.9.4): the standard error must hold that, with no uncertainties in the table.
#[test]
fn few_readings_without_uncertainties_err_as_much_as_their_standard_errors_say() {
    let mut dice = Dice(83);
    let (mut squares, mut count) = (0.0, 0);
    for _ in 0..1500 {
        let head = head(&mut dice, 1, false);
        let mut readings: Vec<RotorReading> =
            (0..6).map(|i| head.reading(0, 60.0 * f64::from(i), Clip::Forward)).collect();
        for reading in &mut readings {
            reading.apparent += Angle::from_degrees(0.02 * dice.normal());
            reading.span += Angle::from_degrees(0.02 * dice.normal());
        }
        let solution = solved(&readings, head.rotation);
        assert_eq!(solution.degrees_of_freedom, 6);
        for (unknown, estimate) in &solution.estimates {
            let error = estimate.value.degrees() - head.truth(*unknown, false);
            squares += (error / estimate.standard_error.degrees()).powi(2);
            count += 1;
        }
    }
    let ratio = (squares / f64::from(count)).sqrt();
    println!("six degrees of freedom: rms(error / standard error) {ratio:.3}");
    assert!((0.93..1.07).contains(&ratio), "{ratio}");
}

/// One blade on a level head at four stations, each reading known to u.
fn level(u: f64, clips: &[Clip]) -> RotorSolution {
    let head = Head {
        rotation: Rotation::Clockwise,
        pitched: 0.0,
        rolled: 0.0,
        cos: 0.0,
        sin: 0.0,
        clip_offset: 0.0,
        clip_span_offset: 0.0,
        blades: vec![(0.0, 0.0)],
    };
    let u = ReadingUncertainty { apparent: Angle::from_degrees(u), span: Angle::from_degrees(u), station: Angle::ZERO };
    let places = [0.0, 90.0, 180.0, 270.0].into_iter().flat_map(|at| clips.iter().map(move |&clip| (at, clip)));
    let readings: Vec<RotorReading> =
        places.map(|(at, clip)| RotorReading { u: Some(u), ..head.reading(0, at, clip) }).collect();
    solve(&readings, Rotation::Clockwise).unwrap()
}

/// By hand: of four readings a mean has u/2, an amplitude u/√2; the swashplate's is that of the pitch and that of the lean
/// together, u. At u = 1.2° a mean (0.6°) and the lean (0.85°) are told, the swashplate (1.2°) is not; at 1.9° only the means are;
/// at 2.1° nothing is. The ratio to the readings is the same throughout, and far from a hundred.
#[test]
fn what_is_known_to_more_than_a_degree_only_is_not_told() {
    let told = |u: f64| {
        let solution = level(u, &[Clip::Forward]);
        let hidden = names(&solution);
        assert_eq!(hidden.is_empty(), solution.suggestions.is_empty(), "at {u}°: what would help is named");
        hidden
    };
    assert_eq!(told(0.9), [""; 0]);
    assert_eq!(told(1.2), ["cos_deg", "sin_deg"]);
    assert_eq!(told(1.9), ["nose_deg", "left_deg", "cos_deg", "sin_deg"]);
    assert_eq!(told(2.1).len(), 6);
    for (unknown, estimate) in level(0.9, &[Clip::Forward]).estimates {
        let by_hand = match unknown {
            Unknown::Collective(_) | Unknown::Droop(_) => 0.9 / 2.0,
            Unknown::Nose | Unknown::Left => 0.9 / 2f64.sqrt(),
            _ => 0.9,
        };
        assert!((estimate.standard_error.degrees() - by_hand).abs() < 1e-6, "{unknown}: {estimate:?}");
    }
}

/// By hand: with u = 0.1° the lean has 0.1°/√2 from four stations. Read both ways round it has 0.1°/√4 from eight readings, and the
/// clip's offset 0.1°/√8 from their halved difference.
#[test]
fn the_shaft_as_datum_is_known_as_well_as_its_lean_and_the_clips_offset() {
    let u = |clips: &[Clip]| match level(0.1, clips).datum() {
        Some(Datum::Shaft { u, .. }) => u.degrees(),
        other => panic!("{other:?}"),
    };
    assert!((u(&[Clip::Forward]) - 0.1 / 2f64.sqrt()).abs() < 1e-6);
    assert!((u(&[Clip::Forward, Clip::Reversed]) - 0.05f64.hypot(0.1 / 8f64.sqrt())).abs() < 1e-6);
}
