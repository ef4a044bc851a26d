//! The uncertainty room against the printed examples of the guides: JCGM 100:2008 (GUM) and JCGM 106:2012.

use clinoblade::stats::student;
use clinoblade::uncertainty::{
    Budget, Component, Contribution, Decision, Freedom, Target, conformance_probability, decide,
};
use clinoblade::units::Angle;
use serde_json::Value;

const GUM: &str = include_str!("../reference/gum_examples.json");
const JCGM106: &str = include_str!("../reference/jcgm106_conformity.json");

/// The arithmetic does not care for the unit: nanometres and percent of the examples stand where degrees would.
fn units(value: f64) -> Angle {
    Angle::from_degrees(value)
}

fn number(value: &Value) -> f64 {
    value.as_f64().or_else(|| value.as_str()?.parse().ok()).unwrap_or_else(|| panic!("{value} is no number"))
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(number).collect()
}

fn assert_near(got: f64, want: f64, within: f64, what: &str) {
    assert!((got - want).abs() <= within, "{what}: {got} instead of {want} ± {within}");
}

fn contribution(component: Component, standard: f64, freedom: f64) -> Contribution {
    Contribution::new(component, units(standard)).with_freedom(Freedom::new(freedom))
}

/// Six different components, for examples with up to six inputs.
const NAMES: [Component; 6] = [
    Component::Calibration,
    Component::Repeat,
    Component::Datum,
    Component::Clip,
    Component::Temperature,
    Component::Azimuth,
];

#[test]
fn gum_g_4_1_three_inputs_make_19_degrees_of_freedom_and_2_2_percent() {
    let gum: Value = serde_json::from_str(GUM).unwrap();
    let example = &gum["g4_1_welch_satterthwaite"];
    let inputs = numbers(&example["rel_u_percent"]).into_iter().zip(numbers(&example["dof"]));
    let budget = Budget::new(NAMES.into_iter().zip(inputs).map(|(name, (u, dof))| contribution(name, u, dof)));
    let whole = budget.expanded();
    assert_near(whole.standard.degrees(), number(&example["published"]["uc_percent"]), 0.005, "u");
    assert_near(whole.freedom.value(), number(&example["unrounded"]["veff"]), 1e-4, "degrees of freedom");
    assert_near(whole.coverage_factor, number(&example["published"]["k95"]), 0.005, "k");
    assert_near(whole.expanded.degrees(), number(&example["published"]["U95_percent"]), 0.05, "U");
}

#[test]
fn gum_g_4_2_an_uncertainty_known_to_a_quarter_has_8_degrees_of_freedom() {
    let gum: Value = serde_json::from_str(GUM).unwrap();
    for row in gum["g4_2_dof_from_relative_uncertainty"].as_array().unwrap() {
        let freedom = Freedom::from_relative_uncertainty(number(&row["rel"]));
        assert_near(freedom.value(), number(&row["dof"]), 1e-9, "degrees of freedom");
    }
}

#[test]
fn gum_h_1_the_end_gauge() {
    let gum: Value = serde_json::from_str(GUM).unwrap();
    let (components, published) = (&gum["h1_end_gauge"]["components"], &gum["h1_end_gauge"]["published"]);
    let freedom = components.as_array().unwrap().iter().map(|c| number(&c["dof"]));
    let inputs = numbers(&published["contrib_nm"]).into_iter().zip(freedom);
    let budget = Budget::new(NAMES.into_iter().zip(inputs).map(|(name, (u, dof))| contribution(name, u, dof)));
    let whole = budget.expanded();
    assert_near(whole.standard.degrees().powi(2), number(&published["uc2_nm2"]), 1.0, "u²");
    assert_near(whole.freedom.value(), number(&published["veff"]), 0.1, "degrees of freedom");
    let k99 = student::coverage_factor(0.99, whole.freedom.value().floor()).unwrap();
    assert_near(k99, number(&published["k99"]), 0.005, "k for 99 %");
    assert_near(k99 * whole.standard.degrees(), number(&published["U99_nm"]), 1.0, "U for 99 %");
    // The guide's remark on H.1: the largest share is the standard's own.
    assert_eq!(budget.largest().unwrap().component, Component::Calibration);
}

#[test]
fn gum_4_4_3_twenty_temperatures() {
    let gum: Value = serde_json::from_str(GUM).unwrap();
    let (readings, published) = (numbers(&gum["table1_4_4_3"]["readings"]), &gum["table1_4_4_3"]["published"]);
    let n = readings.len() as f64;
    let mean = readings.iter().sum::<f64>() / n;
    let sd = (readings.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    // Twenty readings, each with the same scatter of its own, in one mean.
    let each = Budget::new([contribution(Component::Repeat, sd, n - 1.0)]);
    let of_mean = Budget::combination(&vec![(1.0 / n, &each); readings.len()]);
    assert_near(of_mean.standard().degrees(), number(&published["sd_of_mean"]), 0.0005, "u of the mean");
    // The same bound twenty times does not average out: it is one error.
    let half_width = 1.0;
    let shared = Contribution::rectangular(Component::Calibration, units(half_width))
        .shared(clinoblade::uncertainty::Source::calibration("bath"));
    let bound = Budget::new([shared]);
    let of_mean = Budget::combination(&vec![(1.0 / n, &bound); readings.len()]);
    assert_near(of_mean.standard().degrees(), half_width / 3f64.sqrt(), 1e-12, "u of the bound");
}

fn target(row: &Value) -> (Target, f64) {
    // A one-sided lower limit is the upper limit of the mirrored value.
    match (row["TL"].as_f64(), row["TU"].as_f64(), number(&row["y"])) {
        (Some(low), Some(high), y) => {
            (Target::Band { target: units((low + high) / 2.0), tolerance: units((high - low) / 2.0) }, y)
        }
        (None, Some(high), y) => (Target::AtMost(units(high)), y),
        (Some(low), None, y) => (Target::AtMost(units(-low)), -y),
        (None, None, _) => panic!("a row without limits"),
    }
}

#[test]
fn jcgm_106_probabilities_of_conformance() {
    let reference: Value = serde_json::from_str(JCGM106).unwrap();
    for row in reference["computed"].as_array().unwrap() {
        let (target, y) = target(row);
        let probability = conformance_probability(target, units(y), units(number(&row["u"])));
        assert_near(probability, number(&row["pC"]), 1e-9, &row.to_string());
    }
    // From memory: the voltage standard with an upper limit.
    let zener = &reference["published_from_memory"]["zener_upper_limit"];
    let upper = Target::AtMost(units(number(&zener["TU"])));
    let probability = conformance_probability(upper, units(number(&zener["y"])), units(number(&zener["u"])));
    assert_near(probability, number(&zener["pC_published"]), 0.005, "voltage standard");
}

#[test]
fn jcgm_106_a_guard_band_of_u_leaves_2_3_percent_risk_at_the_acceptance_limit() {
    let reference: Value = serde_json::from_str(JCGM106).unwrap();
    let ceiling = Target::AtMost(units(12.0));
    for row in reference["acceptance_limit_risk"].as_array().unwrap() {
        let u = 0.1;
        let at_limit = units(12.0 - number(&row["w_over_u"]) * u);
        let probability = conformance_probability(ceiling, at_limit, units(u));
        assert_near(probability, number(&row["pC_at_limit"]), 1e-9, &row.to_string());
    }
}

#[test]
fn iso_14253_inside_outside_and_the_zone_of_doubt_between() {
    // k = 1.96 with unlimited freedom: u = 0.1 makes U = 0.196.
    let budget = Budget::new([Contribution::new(Component::Clip, units(0.1))]);
    let band: Target = "0 ± 0.5".parse().unwrap();
    let verdict = |value: f64| decide(band, units(value), &budget);
    assert_eq!(verdict(0.30), Decision::Inside);
    assert_eq!(verdict(-0.30), Decision::Inside);
    assert!(matches!(verdict(0.31), Decision::Undecided(_)));
    assert!(matches!(verdict(-0.69), Decision::Undecided(_)));
    assert_eq!(verdict(0.70), Decision::Outside);
    assert_eq!(verdict(-0.70), Decision::Outside);
}
