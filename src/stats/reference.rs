//! Certified data that the tests of this room share.

use serde_json::Value;

macro_rules! files {
    ($($name:literal),+) => { [$(($name, include_str!(concat!("../../tests/reference/strd_univ_", $name, ".csv")))),+] };
}

/// The values of the longer sets, a number each line.
const FILES: [(&str, &str); 5] = files!["lew", "lottery", "mavro", "michelso", "pidigits"];

/// One set of the NIST Statistical Reference Datasets (SRD 140), univariate summary statistics.
pub struct UnivariateSet {
    pub name: String,
    pub values: Vec<f64>,
    pub mean: f64,
    pub deviation: f64,
    pub lag1: f64,
}

/// All nine sets with their certified values.
pub fn univariate_sets() -> Vec<UnivariateSet> {
    let certified: Value = serde_json::from_str(include_str!("../../tests/reference/strd_univariate.json")).unwrap();
    let sets = certified["sets"].as_object().unwrap();
    let read: Vec<UnivariateSet> = sets
        .iter()
        .map(|(name, set)| {
            let number = |key: &str| set[key].as_str().unwrap().parse().unwrap();
            let values = if set["rule"].is_object() { by_rule(set) } else { from_file(name) };
            assert_eq!(values.len() as u64, set["n"].as_u64().unwrap(), "{name}");
            UnivariateSet {
                name: name.clone(),
                values,
                mean: number("mean"),
                deviation: number("sd"),
                lag1: number("lag1"),
            }
        })
        .collect();
    assert_eq!(read.len(), 9);
    read
}

fn parse(value: &Value) -> f64 {
    value.as_str().unwrap().parse().unwrap()
}

fn by_rule(set: &Value) -> Vec<f64> {
    let rule = &set["rule"];
    if let Some(values) = rule["values"].as_array() {
        return values.iter().map(parse).collect();
    }
    let n = set["n"].as_u64().unwrap() as usize;
    let pair = rule["then_alternate"].as_array().unwrap();
    let others = (0..n - 1).map(|i| parse(&pair[i % 2]));
    std::iter::once(parse(&rule["first"])).chain(others).collect()
}

fn from_file(name: &str) -> Vec<f64> {
    let (_, text) = FILES.iter().find(|(file, _)| *file == name.to_lowercase()).unwrap();
    text.lines().filter_map(|line| line.trim().parse().ok()).collect()
}
