//! Where things lie while the tests run.

use std::path::{Path, PathBuf};
use std::process::Command;

/// The folder of the profile that is being tested: cargo puts a test into its `deps`, the program beside that.
fn built() -> PathBuf {
    let own = std::env::current_exe().unwrap();
    own.ancestors().nth(2).unwrap().to_owned()
}

/// The program under test.
pub fn program() -> PathBuf {
    built().join(format!("clinoblade{}", std::env::consts::EXE_SUFFIX))
}

/// A folder of this name for what a person may want to look at after the tests.
pub fn kept(name: &str) -> PathBuf {
    let folder = built().with_file_name("tmp").join(name);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// A path of this project.
pub fn project(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).ancestors().nth(2).unwrap().join(path)
}

/// One test of this same binary in a process of its own, by its path, which is marked `ignore` so that nothing else runs it.
pub fn child(test: &str) -> Command {
    let mut command = Command::new(std::env::current_exe().unwrap());
    command.args([test, "--exact", "--ignored", "--nocapture"]);
    command
}
