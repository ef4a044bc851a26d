//! Output for a wanted angle, held against the truth of simulated heads.

use clinoblade::advice::TravelError;
use clinoblade::record::{Capture, CollectiveSurvey, LimitedBy, TravelSurvey, TravelSurveyError};
use clinoblade::rig::noise::Random;
use clinoblade::rotor::{Deflection, LeadingEdge, Spot};
use clinoblade::uncertainty::Target;
use clinoblade::units::Percent;
use support::advice::{Bench, at, deg, head};

fn survey(bench: &Bench, direction: &str) -> Result<TravelSurvey, TravelSurveyError> {
    let direction: Deflection = direction.parse().unwrap();
    TravelSurvey::new(&bench.head, &bench.entries, direction, None)
}

/// A head of any size whose servo arms stand off square and whose linkage is curved.
fn random_head(random: &mut Random) -> String {
    let mut between = |low: f64, high: f64| low + (high - low) * random.uniform();
    let (cyclic, collective, arm, square) =
        (between(6.0, 12.0), between(8.0, 12.0), between(14.0, 24.0), between(-6.0, 6.0));
    let offsets = [between(-6.0, 6.0), between(-6.0, 6.0), between(-6.0, 6.0)];
    let (travel, neutral) = (between(20.0, 38.0), between(-4.0, 6.0));
    format!(
        "head = {{ cyclic_deg = {cyclic:.3}, collective_deg = {collective:.3}, pitch_arm_mm = {arm:.2}, \
         arm_square_at_deg = {square:.2}, nose_deg = {:.2}, left_deg = {:.2} }}\n\
         servos = {{ arm_offset_deg = [{:.2}, {:.2}, {:.2}] }}\n\
         tail = {{ travel_deg = {travel:.2}, neutral_deg = {neutral:.2} }}",
        between(-2.0, 2.0),
        between(-2.0, 2.0),
        offsets[0],
        offsets[1],
        offsets[2],
    )
}

/// One direction of a random head: captured, advised for a wanted share of what was captured, set, and held against the
/// truth. The error and U of the angle that was foretold, degrees.
fn round(seed: u64, axis: usize, with_half: bool, drawn: fn(&mut Random) -> String) -> (f64, f64) {
    let mut random = Random::new(seed);
    let mut bench = Bench::new(&drawn(&mut random), head(&[]), seed.wrapping_add(7));
    let (direction, neutral, spot) = [
        ("elevator up", "elevator neutral", at(90.0)),
        ("elevator down", "elevator neutral", at(90.0)),
        ("aileron left", "aileron neutral", at(0.0)),
        ("rudder right", "rudder neutral", Spot::Tail(LeadingEdge::Up)),
        ("rudder left", "rudder neutral", Spot::Tail(LeadingEdge::Up)),
    ][axis];
    let zero = bench.capture_as(neutral, "A", spot, 100.0, |_| {});
    let full = bench.capture_as(direction, "A", spot, 100.0, |_| {}) - zero;
    if with_half {
        bench.capture_as(direction, "A", spot, 50.0, |_| {});
    }
    let wanted = full.abs() * (0.6 + 0.48 * random.uniform());
    let advice = survey(&bench, direction).unwrap().output_for(direction.parse().unwrap(), deg(wanted)).unwrap();
    bench.hands(&[&format!("endpoint {direction} {}", advice.whole.value())]);
    let set = bench.capture_as(direction, "A", spot, 100.0, |_| {}) - zero;
    let expanded = advice.budget.expanded().expanded.degrees();
    (set.abs() - advice.angle.degrees(), expanded)
}

#[test]
fn the_advised_output_gives_the_angle_that_was_foretold_within_its_uncertainty() {
    for with_half in [false, true] {
        let rounds: Vec<(f64, f64)> =
            (0..1000).map(|seed| round(seed, seed as usize % 5, with_half, random_head)).collect();
        let within = rounds.iter().filter(|(error, u)| error.abs() <= *u).count();
        let worst = rounds.iter().map(|(error, u)| error.abs() / u).fold(0.0, f64::max);
        let mean_u = rounds.iter().map(|(_, u)| u).sum::<f64>() / rounds.len() as f64;
        println!("with half stick: {with_half}: {within} of 1000 within U, mean U {mean_u:.2}°, worst {worst:.2} U");
        assert!(within >= 950, "{within} of 1000");
        assert!(mean_u < 0.5, "± {mean_u}° is of no use");
    }
}

/// Another population than the one from which the linkage's usual bend was taken: servo arms from short to long on swashplates
/// of every size, further off square.
fn other_head(random: &mut Random) -> String {
    let mut between = |low: f64, high: f64| low + (high - low) * random.uniform();
    let offsets = [between(-9.0, 9.0), between(-9.0, 9.0), between(-9.0, 9.0)];
    format!(
        "head = {{ cyclic_deg = {:.3}, pitch_arm_mm = {:.2}, arm_square_at_deg = {:.2}, servo_arm_mm = {:.2}, \
         plate_servo_radius_mm = {:.2}, plate_link_radius_mm = {:.2} }}\n\
         servos = {{ arm_offset_deg = {offsets:?} }}\n\
         tail = {{ travel_deg = {:.2}, neutral_deg = {:.2}, pitch_arm_mm = {:.2}, servo_arm_mm = {:.2} }}",
        between(5.0, 11.0),
        between(12.0, 28.0),
        between(-9.0, 9.0),
        between(12.0, 22.0),
        between(22.0, 36.0),
        between(14.0, 26.0),
        between(18.0, 34.0),
        between(-6.0, 8.0),
        between(9.0, 14.0),
        between(11.0, 16.0),
    )
}

#[test]
fn the_bend_that_is_allowed_for_holds_on_heads_it_was_not_taken_from() {
    for with_half in [false, true] {
        let rounds: Vec<(f64, f64)> =
            (0..1000).map(|seed| round(5000 + seed, seed as usize % 5, with_half, other_head)).collect();
        let within = rounds.iter().filter(|(error, u)| error.abs() <= *u).count();
        println!("other heads, with half stick: {with_half}: {within} of 1000 within U");
        assert!(within >= 950, "{within} of 1000");
    }
}

#[test]
fn a_pair_outlives_a_change_of_its_own_end_points_and_nothing_else() {
    let mut bench = Bench::new("", head(&[]), 3);
    bench.capture("elevator neutral", "A", 90.0);
    bench.capture("elevator up", "A", 90.0);
    bench.adjust("elevator end point 90");
    bench.hands(&["endpoint elevator up 90", "endpoint elevator down 90"]);
    bench.capture("elevator up", "A", 90.0);
    let outputs = |bench: &Bench| {
        let pairs = survey(bench, "elevator up").map(|survey| survey.pairs);
        pairs.map(|pairs| pairs.iter().map(|pair| (pair.output.value(), pair.assumed)).collect::<Vec<_>>())
    };
    assert_eq!(outputs(&bench), Ok(vec![(90.0, false), (100.0, true)]));
    // The other direction keeps its own.
    bench.adjust("elevator down end point 70");
    bench.part_way("elevator up", "A", 90.0, 50.0);
    assert_eq!(outputs(&bench), Ok(vec![(45.0, false), (90.0, false), (100.0, true)]));
    // What the person knows of the time before replaces what is assumed.
    let direction = "elevator up".parse().unwrap();
    let known = TravelSurvey::new(&bench.head, &bench.entries, direction, Some(Percent::new(110.0))).unwrap();
    assert_eq!(known.pairs.last().map(|pair| (pair.output.value(), pair.assumed)), Some((110.0, false)));

    bench.adjust("cyclic range 80");
    assert_eq!(outputs(&bench), Err(TravelSurveyError::NoCaptures(direction)));
}

#[test]
fn of_one_output_the_newest_reading_counts() {
    let mut bench = Bench::new("", head(&[]), 4);
    bench.capture("aileron neutral", "A", 0.0);
    bench.capture_as("aileron left", "A", at(0.0), 100.0, |capture| capture.reading.angle = deg(-20.0));
    bench.capture("aileron left", "A", 0.0);
    let survey = survey(&bench, "aileron left").unwrap();
    assert_eq!(survey.pairs.len(), 1);
    assert!((survey.pairs[0].moved.degrees() - 11.0).abs() < 1.0, "positive as commanded: {}", survey.pairs[0].moved);
}

fn up_for(bench: &Bench, wanted: f64) -> Result<clinoblade::advice::Output, TravelSurveyError> {
    survey(bench, "elevator up")?.output_for("elevator up".parse().unwrap(), deg(wanted))
}

#[test]
fn past_a_bind_nothing_is_advised() {
    let mut bench = Bench::new("bind = [{ at = 'elevator up', travel_deg = 9.0 }]", head(&[]), 5);
    bench.capture("elevator neutral", "A", 90.0);
    bench.capture_as("elevator up", "A", at(90.0), 78.0, |capture| capture.limited_by = LimitedBy::Bind);
    let (survey, up) = (survey(&bench, "elevator up").unwrap(), "elevator up".parse().unwrap());
    assert!(survey.output_for(up, deg(8.0)).is_ok());
    let binds_at = |error: TravelSurveyError| match error {
        TravelSurveyError::PastBind { bind, .. } | TravelSurveyError::BindsBefore { bind, .. } => {
            bind.output().map(Percent::value)
        }
        other => panic!("{other:?}"),
    };
    assert_eq!(binds_at(survey.output_for(up, deg(9.0)).unwrap_err()), Some(78.0));
    // Nor far past it, wanted or as a ceiling that would still be kept.
    for target in [Target::AtMost(deg(12.0)), Target::Band { target: deg(12.0), tolerance: deg(0.5) }] {
        assert_eq!(binds_at(survey.output_within(up, target).unwrap_err()), Some(78.0));
    }
}

/// Whoever has gone further since, freely, has cleared the bind; at the place of the bind itself as well.
#[test]
fn a_bind_that_was_cleared_forbids_nothing() {
    let mut bench = Bench::new("", head(&[]), 5);
    bench.capture("elevator neutral", "A", 90.0);
    bench.capture_as("elevator up", "A", at(90.0), 78.0, |capture| capture.limited_by = LimitedBy::Bind);
    assert!(up_for(&bench, 9.5).is_err());
    let full = bench.capture("elevator up", "A", 90.0);
    assert!(up_for(&bench, full - 0.5).is_ok());
    // Bound once more, further out: that one holds.
    bench.capture_as("elevator up", "A", at(90.0), 90.0, |capture| capture.limited_by = LimitedBy::Bind);
    assert!(up_for(&bench, full).is_err());
}

/// On the page nobody says where a stick stands that was backed off until it was quiet. It is not at full stick, so it makes no
/// pair; the angle bounds what may be advised all the same.
#[test]
fn where_a_stick_was_backed_off_to_is_not_taken_for_full_stick() {
    let mut bench = Bench::new("bind = [{ at = 'elevator up', travel_deg = 9.0 }]", head(&[]), 5);
    bench.capture("elevator neutral", "A", 90.0);
    let backed_off = |capture: &mut Capture| {
        (capture.limited_by, capture.stick, capture.stick_said) = (LimitedBy::Bind, Percent::new(100.0), false);
    };
    bench.capture_as("elevator up", "A", at(90.0), 78.0, backed_off);
    let only = survey(&bench, "elevator up").unwrap_err();
    let TravelSurveyError::BoundOnly(_, bind) = only else { panic!("{only:?}") };
    assert!(bind.output().is_none() && (8.0..9.0).contains(&bind.at().degrees()), "{bind:?}");
    // A place that is known, free of the bind, shows how the end moves.
    bench.part_way("elevator up", "A", 90.0, 60.0);
    let truth = |output: f64| {
        let mut bench = Bench::new("bind = [{ at = 'elevator up', travel_deg = 9.0 }]", head(&[]), 5);
        bench.hands(&["head 90"]);
        let neutral = bench.truth().blades[0].apparent_deg;
        bench.hands(&[&format!("stick elevator {output}")]);
        (bench.truth().blades[0].apparent_deg - neutral).degrees()
    };
    let wanted = truth(65.0);
    assert!((up_for(&bench, wanted).unwrap().output.value() - 65.0).abs() < 3.0);
    for beyond in [9.5, 12.0] {
        let error = up_for(&bench, beyond).unwrap_err();
        let TravelSurveyError::BindsBefore { wanted, bind } = error else { panic!("{error:?}") };
        assert_eq!(wanted, deg(beyond));
        assert!(bind.output().is_none() && (8.0..9.0).contains(&bind.at().degrees()), "{bind:?}");
    }
}

/// What was read in the stop, before anybody knew that it is one, is not how the linkage moves.
#[test]
fn a_reading_in_the_stop_does_not_bend_the_curve() {
    let bound = "bind = [{ at = 'elevator up', travel_deg = 9.0 }]";
    let advised = |in_the_stop: bool| {
        let mut bench = Bench::new(bound, head(&[]), 5);
        bench.capture("elevator neutral", "A", 90.0);
        if in_the_stop {
            bench.capture("elevator up", "A", 90.0);
        }
        bench.capture_as("elevator up", "A", at(90.0), 78.0, |capture| capture.limited_by = LimitedBy::Bind);
        up_for(&bench, 7.5).unwrap()
    };
    let (with, without) = (advised(true), advised(false));
    assert!((with.output.value() - without.output.value()).abs() < 2.0, "{with:?} {without:?}");
    assert!(with.expanded.value() < 1.5 * without.expanded.value(), "{with:?} {without:?}");
}

#[test]
fn an_end_of_the_collective_is_not_advised_for_the_other_side() {
    let mut bench = Bench::new("", head(&[]), 14);
    for what in ["collective mid", "collective low", "collective high"] {
        bench.capture(what, "A", 90.0);
    }
    for (end, wanted) in [("collective low", 5.0), ("collective high", -5.0)] {
        let survey = survey(&bench, end).unwrap();
        let error = survey.output_for(end.parse().unwrap(), deg(wanted)).unwrap_err();
        let TravelSurveyError::OtherEnd { wanted: refused, end: named, .. } = error else { panic!("{error:?}") };
        assert_eq!((refused, named.to_string().as_str()), (deg(wanted), end));
        assert!(survey.output_for(end.parse().unwrap(), deg(-wanted)).is_ok());
    }
}

#[test]
fn the_low_end_is_told_its_end_point_without_a_sign() {
    let mut bench = Bench::new("", head(&[]), 14);
    for what in ["collective mid", "collective low", "collective high"] {
        bench.capture(what, "A", 90.0);
    }
    let error = survey(&bench, "collective low")
        .unwrap()
        .output_for("collective low".parse().unwrap(), deg(-16.0))
        .unwrap_err();
    assert!(matches!(error, TravelSurveyError::Travel(TravelError::TooFar { limit: 120.0, .. })), "{error:?}");
    for wrong in ["collective low end point -120", "elevator up end point 0", "rudder end point 250 %"] {
        assert!(wrong.parse::<clinoblade::record::Adjustment>().is_err(), "{wrong}");
    }
}

/// A ceiling of 0.05° is less than any capture here is uncertain by.
#[test]
fn a_ceiling_that_no_output_stays_under_is_said_to_be_one() {
    let mut bench = Bench::new("", head(&[]), 15);
    bench.capture("elevator neutral", "A", 90.0);
    bench.capture("elevator up", "A", 90.0);
    let error =
        survey(&bench, "elevator up").unwrap().output_under("elevator up".parse().unwrap(), deg(0.05)).unwrap_err();
    assert_eq!(error, TravelSurveyError::Travel(TravelError::NeverUnder { ceiling: deg(0.05) }));
}

#[test]
fn no_travel_without_a_neutral_and_none_of_a_neutral_or_a_corner() {
    let mut bench = Bench::new("", head(&[]), 6);
    bench.capture("elevator up", "A", 90.0);
    assert!(matches!(survey(&bench, "elevator up"), Err(TravelSurveyError::NoCaptures(..))));
    assert!(matches!(survey(&bench, "elevator neutral"), Err(TravelSurveyError::NoEnd(_))));
    assert!(matches!(survey(&bench, "corner high up"), Err(TravelSurveyError::NoEnd(_))));
}

#[test]
fn a_straight_collective_is_straight_and_its_ends_alike() {
    let mut bench = Bench::new("", head(&[]), 7);
    for what in ["collective mid", "collective low", "collective 25%", "collective 75%", "collective high"] {
        bench.capture(what, "A", 90.0);
    }
    let survey = CollectiveSurvey::new(&bench.head, &bench.entries, None).unwrap();
    assert!(survey.worst().is_none(), "{:?}", survey.off_the_line);
    assert!(!survey.symmetry.unwrap().is_significant());
    assert_eq!(survey.off_the_line.iter().map(|point| point.stick.value()).collect::<Vec<_>>(), [25.0, 50.0, 75.0]);
}

/// The ends are those that were captured as the end points stand now, and unequal where the description wants them so.
#[test]
fn the_ends_of_the_collective_are_held_against_each_other_as_they_stand_now() {
    let symmetry = |bench: &Bench| CollectiveSurvey::new(&bench.head, &bench.entries, None).unwrap().symmetry;
    let mut bench = Bench::new("", head(&[]), 16);
    for what in ["collective mid", "collective 25%", "collective high"] {
        bench.capture(what, "A", 90.0);
    }
    assert_eq!(symmetry(&bench), None, "the low end was not captured: a place between is none");
    bench.capture("collective low", "A", 90.0);
    assert!(!symmetry(&bench).unwrap().is_significant());
    // The low end is taken back to 80 %, and is not known until it is read there.
    bench.hands(&["endpoint collective low 80"]);
    bench.adjust("collective low end point 80");
    assert_eq!(symmetry(&bench), None);
    let neutral = bench.capture("collective mid", "A", 90.0);
    let low = bench.capture("collective low", "A", 90.0) - neutral;
    let high = bench.captures().rfind(|c| c.subject.deflection().to_string() == "collective high").unwrap();
    let (high, found) = (high.reading.angle.degrees() - neutral, symmetry(&bench).unwrap());
    assert!(found.is_significant() && (found.difference.degrees() - (high + low)).abs() < 0.15, "{found:?}");
    // And where just that is wanted, nothing is amiss.
    bench.head.targets.collective_high = Some(Target::Band { target: deg(high), tolerance: deg(0.5) });
    bench.head.targets.collective_low = Some(Target::Band { target: deg(low), tolerance: deg(0.5) });
    assert!(!symmetry(&bench).unwrap().is_significant(), "{:?}", symmetry(&bench));
}

/// 10° off at the centre give +11.5° and −12.1° where 12° are wanted (by calculation, servo arm 15 mm on a pitch arm of 20 mm).
#[test]
fn servo_arms_off_square_show_in_unequal_ends() {
    let rig = "head.collective_deg = 12.0\nservos.arm_offset_deg = [10.0, 10.0, 10.0]";
    let mut bench = Bench::new(rig, head(&[]), 8);
    for what in ["collective mid", "collective low", "collective high"] {
        bench.capture(what, "A", 90.0);
    }
    let survey = CollectiveSurvey::new(&bench.head, &bench.entries, None).unwrap();
    let symmetry = survey.symmetry.clone().unwrap();
    assert!(symmetry.is_significant(), "{symmetry:?}");
    assert!((symmetry.difference.degrees() - (11.5 - 12.1)).abs() < 0.15, "{}", symmetry.difference);
    // Its points lie on the curve that is drawn, and the curve goes from end to end.
    let drawn = survey.drawn();
    assert!((drawn[0].0, drawn[100].0) == (0.0, 100.0));
    assert!(drawn.windows(2).all(|pair| pair[1].1 > pair[0].1));
    for (stick, pair) in survey.points() {
        let nearest = drawn.iter().min_by(|a, b| (a.0 - stick).abs().total_cmp(&(b.0 - stick).abs())).unwrap();
        assert!((nearest.1 - pair.moved.degrees()).abs() < 1e-6);
    }
    // The ends that would make ±11° are set, and do.
    let travel = &survey.travel;
    let output = |end: &str, wanted: f64| travel.output_for(end.parse().unwrap(), deg(wanted));
    let (low, high) = (output("collective low", -11.0).unwrap(), output("collective high", 11.0).unwrap());
    let neutral = bench.capture("collective mid", "A", 90.0);
    bench.hands(&[
        &format!("endpoint collective low {}", low.whole.value().abs()),
        &format!("endpoint collective high {}", high.whole.value()),
    ]);
    for (what, advice) in [("collective low", &low), ("collective high", &high)] {
        let set = bench.capture(what, "A", 90.0) - neutral;
        assert!(
            (set - advice.angle.degrees()).abs() <= advice.budget.expanded().expanded.degrees(),
            "{what}: {set} {advice:?}"
        );
    }
}
