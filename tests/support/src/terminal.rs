//! A program in a terminal that the test holds at its other end: every byte that it writes, and the modes in which it leaves
//! the line.

use crate::bench::LONG;
use crate::port::pseudo_terminal;
use rustix::process::{Pid, Signal, WaitOptions, kill_process, waitpid};
use rustix::termios::{LocalModes, OutputModes, Winsize, tcgetattr, tcsetwinsize};
use std::fs::File;
use std::io::{Read, Write};
use std::os::unix::process::CommandExt;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// What a program writes to take the whole screen, and to give it back.
pub const TAKES_THE_SCREEN: &str = "\x1b[?1049h";
/// The other way.
pub const GIVES_IT_BACK: &str = "\x1b[?1049l";
/// Shows the cursor.
pub const SHOWS_THE_CURSOR: &str = "\x1b[?25h";

/// The terminal and the program in it.
pub struct OnTerminal {
    master: File,
    /// Kept open, so that what the line is set to can be asked for.
    line: File,
    child: Child,
    seen: Arc<Mutex<Vec<u8>>>,
}

/// The modes of a line that a screen changes.
pub type Modes = (LocalModes, OutputModes);

impl OnTerminal {
    /// Starts the program, its input, output and errors on a terminal of this size (columns, rows), in a process group of its
    /// own.
    pub fn start(command: Command, size: (u16, u16)) -> Self {
        Self::start_with(command, size, true)
    }

    /// The same; where `errors` are not on the terminal, they go nowhere.
    pub fn start_with(mut command: Command, size: (u16, u16), errors: bool) -> Self {
        let (mut master, path) = pseudo_terminal();
        let line = File::options().read(true).write(true).open(path).unwrap();
        let end = || Stdio::from(line.try_clone().unwrap());
        set_size(&line, size);
        command.stdin(end()).stdout(end()).stderr(if errors { end() } else { Stdio::null() });
        command.env("TERM", "xterm-256color").env_remove("NO_COLOR").process_group(0);
        let child = command.spawn().unwrap();
        let seen: Arc<Mutex<Vec<u8>>> = Arc::default();
        let mut from = master.try_clone().unwrap();
        let into = Arc::clone(&seen);
        std::thread::spawn(move || {
            let mut bytes = [0; 4096];
            while let Ok(read @ 1..) = from.read(&mut bytes) {
                into.lock().unwrap().extend_from_slice(&bytes[..read]);
            }
        });
        // Nothing is typed yet.
        master.flush().unwrap();
        Self { master, line, child, seen }
    }

    /// Everything that was written so far.
    pub fn seen(&self) -> String {
        String::from_utf8_lossy(&self.seen.lock().unwrap()).into_owned()
    }

    /// What was written after this many bytes.
    pub fn seen_after(&self, from: usize) -> String {
        String::from_utf8_lossy(&self.seen.lock().unwrap()[from..]).into_owned()
    }

    /// How many bytes were written so far.
    pub fn count(&self) -> usize {
        self.seen.lock().unwrap().len()
    }

    /// Waits until these words are written after so many bytes.
    pub fn wait_for(&self, from: usize, words: &str) {
        let deadline = Instant::now() + LONG;
        while !self.seen_after(from).contains(words) {
            assert!(Instant::now() < deadline, "never {words:?}:\n{}", self.seen_after(from).escape_debug());
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// The modes of the line at this moment.
    pub fn modes(&self) -> Modes {
        let now = tcgetattr(&self.line).unwrap();
        (now.local_modes, now.output_modes)
    }

    pub fn resize(&self, size: (u16, u16)) {
        set_size(&self.line, size);
    }

    pub fn press(&mut self, keys: &str) {
        self.master.write_all(keys.as_bytes()).unwrap();
    }

    pub fn pid(&self) -> Pid {
        Pid::from_child(&self.child)
    }

    pub fn send(&self, signal: Signal) {
        kill_process(self.pid(), signal).unwrap();
    }

    /// Waits until the program is stopped.
    pub fn wait_until_stopped(&self) {
        let deadline = Instant::now() + LONG;
        loop {
            let waited = waitpid(Some(self.pid()), WaitOptions::UNTRACED | WaitOptions::NOHANG).unwrap();
            if let Some((_, status)) = waited {
                assert!(status.stopped(), "{status:?}: {}", self.seen().escape_debug());
                return;
            }
            assert!(Instant::now() < deadline, "it is never stopped");
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Memory that it holds, in MiB.
    #[cfg(target_os = "linux")]
    pub fn memory(&self) -> u64 {
        let pages = std::fs::read_to_string(format!("/proc/{}/statm", self.child.id())).unwrap_or_default();
        (pages.split(' ').nth(1).and_then(|pages| pages.parse::<u64>().ok()).unwrap_or(0) * 4096) >> 20
    }

    /// Waits for the end of the program, and a moment longer for its last words.
    pub fn end(&mut self) -> ExitStatus {
        let deadline = Instant::now() + LONG;
        let status = loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                break status;
            }
            assert!(Instant::now() < deadline, "it does not end: {}", self.seen().escape_debug());
            std::thread::sleep(Duration::from_millis(10));
        };
        // What was written is in the line already: it comes at once.
        let mut before = usize::MAX;
        while before != self.count() {
            before = self.count();
            std::thread::sleep(Duration::from_millis(100));
        }
        status
    }
}

impl Drop for OnTerminal {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn set_size(line: &File, (columns, rows): (u16, u16)) {
    tcsetwinsize(line, Winsize { ws_col: columns, ws_row: rows, ws_xpixel: 0, ws_ypixel: 0 }).unwrap();
}
