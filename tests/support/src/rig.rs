//! The simulated head as a process of its own.

use std::io::{BufRead, BufReader, Write};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};

/// A running rig process; ended when the test is.
pub struct Process {
    pub child: Child,
    input: ChildStdin,
    output: BufReader<ChildStdout>,
    pub port: String,
}

impl Process {
    pub fn start(arguments: &[&str]) -> Self {
        let mut child = Command::new(crate::place::program())
            .arg("rig")
            .args(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let input = child.stdin.take().unwrap();
        let mut output = BufReader::new(child.stdout.take().unwrap());
        let mut first = String::new();
        output.read_line(&mut first).unwrap();
        let port = first.trim().strip_prefix("port ").expect("the first line names the port").to_owned();
        Self { child, input, output, port }
    }

    pub fn tell(&mut self, line: &str) -> String {
        writeln!(self.input, "{line}").unwrap();
        let mut answer = String::new();
        self.output.read_line(&mut answer).unwrap();
        answer.trim().to_owned()
    }

    pub fn truth(&mut self) -> serde_json::Value {
        serde_json::from_str(&self.tell("truth")).unwrap()
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
