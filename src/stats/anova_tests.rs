//! Analysis of variance against published studies.

use super::*;
use serde_json::Value;
use std::collections::BTreeMap;

fn document(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().or_else(|| value.as_str()?.parse().ok()).unwrap()
}

/// Agrees with a printed figure to half a unit of its last digit.
fn prints(found: f64, printed: &Value) {
    let text = printed.as_str().unwrap();
    let decimals = text.split_once('.').map_or(0, |(_, after)| after.len());
    let half = 0.500_001 * 10f64.powi(-(decimals as i32));
    assert!((found - text.parse::<f64>().unwrap()).abs() <= half, "{found} against {text}");
}

/// Ten parts, three appraisers, three trials: every figure of the published table follows from grouping the readings by
/// part, by appraiser and by both. [AIAG, Measurement Systems Analysis, 4th ed. (2010)]
#[test]
fn agrees_with_the_published_gauge_study_of_ten_parts() {
    let reference = document(include_str!("../../tests/reference/grr_aiag.json"));
    let (mut parts, mut appraisers, mut cells) = (BTreeMap::new(), BTreeMap::new(), BTreeMap::new());
    for row in include_str!("../../tests/reference/grr_aiag.csv").lines().skip(1) {
        let fields: Vec<&str> = row.split(',').collect();
        let value: f64 = fields[3].parse().unwrap();
        parts.entry(fields[2]).or_insert_with(Vec::new).push(value);
        appraisers.entry(fields[0]).or_insert_with(Vec::new).push(value);
        cells.entry((fields[0], fields[2])).or_insert_with(Vec::new).push(value);
    }
    let group = |groups: Vec<Vec<f64>>| one_way(&groups).unwrap();
    let parts = group(parts.into_values().collect());
    let appraisers = group(appraisers.into_values().collect());
    let cells = group(cells.into_values().collect());
    let equipment = cells.within;
    let interaction = Squares {
        sum: cells.between.sum - parts.between.sum - appraisers.between.sum,
        freedom: cells.between.freedom - parts.between.freedom - appraisers.between.freedom,
    };
    let table = &reference["published_anova"];
    for (name, squares) in [
        ("part", parts.between),
        ("appraiser", appraisers.between),
        ("interaction", interaction),
        ("equipment", equipment),
    ] {
        prints(squares.sum, &table[format!("ss_{name}")]);
        prints(squares.mean(), &table[format!("ms_{name}")]);
        assert_eq!(squares.freedom, number(&table[format!("df_{name}")]));
    }
    prints(parts.between.sum + parts.within.sum, &table["ss_total"]);
    prints(interaction.mean() / equipment.mean(), &table["F_interaction"]);
    prints(interaction.chance_against(equipment), &table["p_interaction"]);

    // The interaction is no larger than chance makes it, and is pooled with the equipment.
    let repeatability = equipment.pooled(interaction);
    let pooled = &reference["published_pooled"];
    let of_appraisers = component(appraisers.between, repeatability, appraisers.size);
    let of_parts = component(parts.between, repeatability, parts.size);
    prints(repeatability.mean(), &pooled["var_repeatability"]);
    prints(of_appraisers.value, &pooled["var_reproducibility"]);
    prints(of_parts.value, &pooled["var_part"]);
    prints(repeatability.mean().sqrt(), &pooled["EV"]);
    prints(of_appraisers.value.sqrt(), &pooled["AV"]);
    prints(of_parts.value.sqrt(), &pooled["PV"]);
    prints(equipment.mean().sqrt(), &pooled["EV_without_pooling"]);
    let gauge = (repeatability.mean() + of_appraisers.value).sqrt();
    // The publication's last digit is rounded from rounded figures.
    assert!((gauge - number(&pooled["GRR"])).abs() < 2e-6, "{gauge}");
}

/// Five readings on each of ten days, printed as means and standard deviations. [JCGM 100:2008, annex H.5]
#[test]
fn agrees_with_the_guide_on_readings_of_ten_days() {
    let reference = document(include_str!("../../tests/reference/gum_examples.json"));
    let example = &reference["h5_anova_between_days"];
    let list = |name: &str| -> Vec<f64> { example[name].as_array().unwrap().iter().map(number).collect() };
    let (means, deviations) = (list("day_mean_V"), list("day_sd_uV"));
    let readings_a_day = number(&example["K"]);
    // Readings with exactly the printed mean and standard deviation of each day.
    let shape: [f64; 5] = [-2.0, -1.0, 0.0, 1.0, 2.0];
    let unit = (shape.iter().map(|x| x * x).sum::<f64>() / (readings_a_day - 1.0)).sqrt();
    let days: Vec<Vec<f64>> = means
        .iter()
        .zip(&deviations)
        .map(|(mean, sd)| shape.iter().map(|x| (mean - 10.0) * 1e6 + x / unit * sd).collect())
        .collect();
    let found = one_way(&days).unwrap();
    assert_eq!((found.between.freedom, found.within.freedom, found.size), (9.0, 40.0, readings_a_day));
    let published = &example["published"];
    prints(found.within.mean().sqrt(), &published["pooled_within_sd_uV"]);
    prints((found.between.mean() / readings_a_day).sqrt(), &published["sd_of_day_means_uV"]);
    prints(found.between.mean().sqrt(), &published["sa_uV"]);
    prints(found.between.mean() / found.within.mean(), &example["unrounded_F"]);
    prints(found.component().value.sqrt(), &published["between_day_sd_uV"]);
    // Significant at 5 %, not at 2.5 %, as annex H.5 says.
    let chance = found.between.chance_against(found.within);
    assert!((0.025..0.05).contains(&chance), "{chance}");
}

/// Two runs, five wafers, five probes, six days. [NIST/SEMATECH e-Handbook, 2.6.1]
#[test]
fn agrees_with_the_handbook_on_its_gauge_study() {
    let reference = document(include_str!("../../tests/reference/nist_gauge_study.json"));
    let probe = reference["probe"].as_u64().unwrap().to_string();
    let mut days: BTreeMap<(String, String), Vec<f64>> = BTreeMap::new();
    let (mut first, mut pooled) = (BTreeMap::<String, Squares>::new(), Squares::default());
    for row in include_str!("../../tests/reference/nist_gauge_study.csv").lines().skip(1) {
        let fields: Vec<&str> = row.split(',').collect();
        // Each row is the mean and standard deviation of six readings.
        let squares = Squares::of_deviation(fields[8].parse().unwrap(), 5.0);
        if fields[2] == probe {
            days.entry((fields[0].into(), fields[1].into())).or_default().push(fields[7].parse().unwrap());
            let run = first.entry(fields[0].into()).or_default();
            *run = run.pooled(squares);
            pooled = pooled.pooled(squares);
        }
    }
    let published = &reference["published"];
    let agrees = |squares: Squares, printed: &Value| {
        prints(squares.mean().sqrt(), &printed[0]);
        assert_eq!(squares.freedom, number(&printed[1]));
    };
    agrees(first["1"], &published["level1"]["run1"]);
    agrees(first["2"], &published["level1"]["run2"]);
    agrees(pooled, &published["level1"]["pooled"]);

    // From day to day, within wafer and run.
    let run = |name: &str| -> Vec<Vec<f64>> {
        days.iter().filter(|((run, _), _)| run == name).map(|(_, values)| values.clone()).collect()
    };
    let (one, two) = (run("1"), run("2"));
    agrees(one_way(&one).unwrap().within, &published["level2"]["run1"]);
    agrees(one_way(&two).unwrap().within, &published["level2"]["run2"]);
    agrees(one_way(&[one.clone(), two.clone()].concat()).unwrap().within, &published["level2"]["pooled"]);

    // From run to run: the two runs' means of each wafer.
    let mean = |values: &Vec<f64>| super::super::moments::mean(values).unwrap();
    let wafers: Vec<[f64; 2]> = one.iter().zip(&two).map(|(one, two)| [mean(one), mean(two)]).collect();
    agrees(one_way(&wafers).unwrap().within, &published["level3"]);
}

/// [NIST/SEMATECH e-Handbook, 2.4.4]
#[test]
fn pooling_agrees_with_the_handbook() {
    let reference = document(include_str!("../../tests/reference/nist_gauge_study.json"));
    let example = &reference["pooling_example_2_4_4"];
    let list = |name: &str| -> Vec<f64> { example[name].as_array().unwrap().iter().map(number).collect() };
    let parts = list("ss").into_iter().zip(list("dof")).map(|(sum, freedom)| Squares { sum, freedom });
    let pooled = parts.reduce(Squares::pooled).unwrap();
    prints(pooled.sum, &example["published_ss_sum"]);
    prints(pooled.mean().sqrt(), &example["published_pooled_sd"]);
}

#[test]
fn a_component_is_never_negative_and_keeps_what_it_is_known_by() {
    let alike = one_way(&[[1.0, 3.0], [3.0, 1.0], [1.0, 3.0]]).unwrap();
    assert_eq!(alike.component(), Variance { value: 0.0, freedom: 1.0 });
    // Without scatter inside, the groups' own degrees of freedom are all there is.
    let clear = one_way(&[[1.0, 1.0], [2.0, 2.0], [3.0, 3.0]]).unwrap();
    assert_eq!(clear.component(), Variance { value: 1.0, freedom: 2.0 });
    assert!(one_way::<[f64; 0]>(&[]).is_none());
    assert!(one_way(&[vec![1.0, 2.0], vec![]]).is_none());
}
