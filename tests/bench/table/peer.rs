//! Other programs that do the same, where they are installed.

use serde_json::Value;
use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Stdio};

/// Where Python is looked for: what is on the path first, then where the system keeps its own.
const PYTHONS: [&str; 3] = ["python3", "/usr/bin/python3", "/usr/local/bin/python3"];

/// A Python that can import all of these modules; none where none can.
pub fn python(modules: &[&str]) -> Option<String> {
    let script = format!("import sys, {}; print(sys.executable)", modules.join(", "));
    PYTHONS.iter().find_map(|python| {
        let said = Command::new(python).args(["-c", &script]).stderr(Stdio::null()).output().ok()?;
        // The interpreter itself, without what may stand before it on the path.
        said.status.success().then(|| String::from_utf8_lossy(&said.stdout).trim().to_owned())
    })
}

/// The path of a peer's script.
pub fn script(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/bench/peers").join(name)
}

/// Runs a script on one JSON document, and gives the one that it prints.
pub fn ask(python: &str, name: &str, question: &Value) -> Value {
    let mut command = Command::new(python);
    command.arg(script(name)).stdin(Stdio::piped()).stdout(Stdio::piped());
    let mut child = command.spawn().expect("the peer");
    let mut input = child.stdin.take().expect("its input");
    let text = question.to_string();
    // The script reads all of it before it says anything.
    input.write_all(text.as_bytes()).expect("the question");
    drop(input);
    let answer = child.wait_with_output().expect("the answer");
    assert!(answer.status.success(), "{name} failed");
    serde_json::from_slice(&answer.stdout).expect("one document")
}
