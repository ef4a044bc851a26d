//! The packages that the program is made of on this system, as cargo knows them without a network.

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

/// One package that is not our own.
#[derive(Debug, Clone)]
pub struct Package {
    pub name: String,
    pub version: String,
    /// Its licence as an SPDX expression; older manifests write a slash for `OR`.
    pub licence: Option<String>,
    /// Where it comes from.
    pub source: Option<String>,
    /// Whether a manifest of our own names it.
    pub is_direct: bool,
}

/// What goes into the program: no tests, no build scripts, nothing of other systems.
pub fn normal_dependencies() -> Vec<Package> {
    reached(&|kind| kind.is_null())
}

/// Everything that is built on this system, for tests and build scripts too.
pub fn all_dependencies() -> Vec<Package> {
    reached(&|_| true)
}

/// How many packages are our own: the members of this workspace.
pub fn own_packages() -> usize {
    list(&metadata()["workspace_members"]).len()
}

/// What is reached from the program's package over dependencies of these kinds, without the members of this workspace.
fn reached(follows: &dyn Fn(&Value) -> bool) -> Vec<Package> {
    let metadata = metadata();
    let root = metadata["resolve"]["root"].as_str().unwrap();
    let edges: BTreeMap<&str, &Vec<Value>> = list(&metadata["resolve"]["nodes"])
        .iter()
        .map(|node| (node["id"].as_str().unwrap(), node["deps"].as_array().unwrap()))
        .collect();
    let next = |id: &str| -> Vec<&str> {
        let followed = |edge: &&Value| list(&edge["dep_kinds"]).iter().any(|kind| follows(&kind["kind"]));
        edges[id].iter().filter(followed).map(|edge| edge["pkg"].as_str().unwrap()).collect()
    };
    let own: BTreeSet<&str> = list(&metadata["workspace_members"]).iter().map(|id| id.as_str().unwrap()).collect();
    let (mut seen, mut waiting) = (BTreeSet::new(), vec![root]);
    while let Some(id) = waiting.pop() {
        if seen.insert(id) {
            waiting.extend(next(id));
        }
    }
    let direct: BTreeSet<&str> = seen.intersection(&own).flat_map(|id| next(id)).collect();
    let text = |value: &Value| value.as_str().map(str::to_owned);
    list(&metadata["packages"])
        .iter()
        .filter(|package| {
            let id = package["id"].as_str().unwrap();
            seen.contains(id) && !own.contains(id)
        })
        .map(|package| Package {
            name: text(&package["name"]).unwrap(),
            version: text(&package["version"]).unwrap(),
            licence: text(&package["license"]),
            source: text(&package["source"]),
            is_direct: direct.contains(package["id"].as_str().unwrap()),
        })
        .collect()
}

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().unwrap()
}

fn metadata() -> Value {
    let host = said("rustc", &["-vV"]);
    let host = host.lines().find_map(|line| line.strip_prefix("host: ")).unwrap();
    let cargo = std::env::var("CARGO").unwrap_or_else(|_| "cargo".to_owned());
    let wishes = ["metadata", "--format-version=1", "--offline", "--locked", "--filter-platform", host];
    serde_json::from_str(&said(&cargo, &wishes)).unwrap()
}

fn said(program: &str, arguments: &[&str]) -> String {
    let output = Command::new(program).args(arguments).current_dir(crate::place::project("")).output().unwrap();
    assert!(output.status.success(), "{program} {arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}
