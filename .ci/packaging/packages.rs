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
    /// Whether it runs in the compiler alone.
    pub is_macro: bool,
}

/// Which dependencies are followed from one package to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Follow {
    /// What is linked: no macros with what they need, no build scripts, no tests.
    Linked,
    /// What the sources of the program name: macros too.
    Normal,
    /// Everything that is built on this system, for tests and build scripts too.
    All,
}

/// The workspace of a project, as cargo resolves it for this system.
#[derive(Debug)]
pub struct Workspace(Value);

impl Workspace {
    /// Asks cargo, with these features of the program on.
    ///
    /// # Errors
    /// When cargo cannot say it, as where a package was not fetched yet.
    pub fn of(project: &Path, features: &str) -> Result<Self, String> {
        let host = said(project, "rustc", &["-vV"])?;
        let host = host.lines().find_map(|line| line.strip_prefix("host: ")).ok_or("rustc names no host")?;
        let cargo = std::env::var("CARGO").unwrap_or_else(|_| "cargo".to_owned());
        let options = ["metadata", "--format-version=1", "--offline", "--locked", "--filter-platform", host];
        let text = said(project, &cargo, &[&options[..], &["--features", features]].concat())?;
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
        let is_macro = |id: &str| {
            let targets = list(&packages[id]["targets"]);
            targets.iter().any(|target| list(&target["kind"]).iter().any(|kind| kind == "proc-macro"))
        };
        let follows = |edge: &&Value| {
            let mut kinds = list(&edge["dep_kinds"]).iter();
            let is_wanted = follow != Follow::Linked || !is_macro(text(&edge["pkg"]));
            is_wanted && kinds.any(|kind| follow == Follow::All || kind["kind"].is_null())
        };
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
        foreign
            .map(|id| Package { is_direct: direct.contains(id), is_macro: is_macro(id), ..package(packages[id]) })
            .collect()
    }
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
        is_macro: false,
    }
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_default()
}

fn said(project: &Path, program: &str, arguments: &[&str]) -> Result<String, String> {
    let output = Command::new(program).args(arguments).current_dir(project).output();
    let output = output.map_err(|error| format!("{program}: {error}"))?;
    if !output.status.success() {
        return Err(format!("{program} {arguments:?}: {}", String::from_utf8_lossy(&output.stderr)));
    }
    String::from_utf8(output.stdout).map_err(|error| format!("{program}: {error}"))
}
