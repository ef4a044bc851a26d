//! The packages that the program is made of on this system, as cargo knows them without a network.

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::Command;

/// One package that is not our own.
#[derive(Debug, Clone)]
pub struct Package {
    /// Its name on the registry.
    pub name: String,
    /// Its version.
    pub version: String,
    /// Its licence as an SPDX expression; older manifests write a slash for `OR`.
    pub licence: Option<String>,
    /// The file that holds its licence, where its manifest names one.
    pub licence_file: Option<String>,
    /// Who wrote it, as far as its manifest says.
    pub authors: Vec<String>,
    /// Where it comes from.
    pub source: Option<String>,
    /// Where its unpacked source lies.
    pub folder: PathBuf,
    /// Whether a manifest of our own names it.
    pub is_direct: bool,
}

/// Which dependencies are followed from one package to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Follow {
    /// What the sources of the program name: no tests, no build scripts.
    Normal,
    /// Everything that is built on this system, for tests and build scripts too.
    All,
}

/// The workspace of a project, as cargo resolves it for this system.
#[derive(Debug)]
pub struct Workspace(Value);

impl Workspace {
    /// Asks cargo.
    ///
    /// # Errors
    /// When cargo cannot say it, as where a package was not fetched yet.
    pub fn of(project: &Path) -> Result<Self, String> {
        let options = ["metadata", "--format-version=1", "--offline", "--locked", "--filter-platform", &host(project)?];
        let text = said(project, &cargo(), &options)?;
        serde_json::from_str(&text).map(Self).map_err(|error| format!("cargo metadata: {error}"))
    }

    /// How many packages are our own: the members of this workspace.
    #[must_use]
    pub fn members(&self) -> usize {
        list(&self.0["workspace_members"]).len()
    }

    /// What is reached from the program's package, without the members of this workspace.
    #[must_use]
    pub fn dependencies(&self, follow: Follow) -> Vec<Package> {
        let packages: BTreeMap<&str, &Value> =
            list(&self.0["packages"]).iter().map(|package| (text(&package["id"]), package)).collect();
        let edges: BTreeMap<&str, &[Value]> =
            list(&self.0["resolve"]["nodes"]).iter().map(|node| (text(&node["id"]), list(&node["deps"]))).collect();
        let follows =
            |edge: &&Value| list(&edge["dep_kinds"]).iter().any(|kind| follow == Follow::All || kind["kind"].is_null());
        let next = |id: &str| edges[id].iter().filter(follows).map(|edge| text(&edge["pkg"])).collect::<Vec<_>>();
        let own: BTreeSet<&str> = list(&self.0["workspace_members"]).iter().map(text).collect();
        let (mut seen, mut waiting) = (BTreeSet::new(), vec![text(&self.0["resolve"]["root"])]);
        while let Some(id) = waiting.pop() {
            if seen.insert(id) {
                waiting.extend(next(id));
            }
        }
        let direct: BTreeSet<&str> = seen.intersection(&own).flat_map(|id| next(id)).collect();
        let foreign = seen.difference(&own);
        foreign.map(|id| Package { is_direct: direct.contains(id), ..package(packages[id]) }).collect()
    }
}

/// What a package's program is linked with, these features on: no macros with what they need, no build scripts, no tests, and
/// nothing that is on for the tests alone.
///
/// # Errors
/// When cargo cannot say it, as where a package was not fetched yet.
pub fn linked(project: &Path, features: &str) -> Result<Vec<Package>, String> {
    let host = host(project)?;
    let options = ["tree", "--offline", "--locked", "--target", &host, "--features", features, "--prefix", "none"];
    let tree =
        said(project, &cargo(), &[&options[..], &["--edges", "normal,no-proc-macro", "--format", "{p}"]].concat())?;
    let words = tree.lines().map(|line| line.split_whitespace().take(2).collect::<Vec<_>>());
    let listed: BTreeSet<String> = words.map(|words| words.join(" ")).collect();
    let mut all = Workspace::of(project)?.dependencies(Follow::Normal);
    all.retain(|Package { name, version, .. }| listed.contains(&format!("{name} v{version}")));
    Ok(all)
}

fn package(described: &Value) -> Package {
    let some = |name: &str| described[name].as_str().map(str::to_owned);
    Package {
        name: text(&described["name"]).to_owned(),
        version: text(&described["version"]).to_owned(),
        licence: some("license"),
        licence_file: some("license_file"),
        authors: list(&described["authors"]).iter().map(|author| text(author).to_owned()).collect(),
        source: some("source"),
        folder: Path::new(text(&described["manifest_path"])).parent().map(Path::to_owned).unwrap_or_default(),
        is_direct: false,
    }
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_default()
}

fn cargo() -> String {
    std::env::var("CARGO").unwrap_or_else(|_| "cargo".to_owned())
}

/// The system that this compiler builds for.
fn host(project: &Path) -> Result<String, String> {
    let told = said(project, "rustc", &["-vV"])?;
    told.lines()
        .find_map(|line| line.strip_prefix("host: "))
        .map(str::to_owned)
        .ok_or_else(|| "rustc names no host".to_owned())
}

fn said(project: &Path, program: &str, arguments: &[&str]) -> Result<String, String> {
    let output = Command::new(program).args(arguments).current_dir(project).output();
    let output = output.map_err(|error| format!("{program}: {error}"))?;
    if !output.status.success() {
        return Err(format!("{program} {arguments:?}: {}", String::from_utf8_lossy(&output.stderr)));
    }
    String::from_utf8(output.stdout).map_err(|error| format!("{program}: {error}"))
}
