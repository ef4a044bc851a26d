//! Whatever ends `watch`, the terminal is as it was before; whatever size it says it has, it is drawn on within bounds.

use rustix::process::Signal;
use std::os::unix::process::ExitStatusExt;
use support::bench::{Bench, recorded};
use support::terminal::{GIVES_IT_BACK, OnTerminal, SHOWS_THE_CURSOR, TAKES_THE_SCREEN};

use super::watch_screen::SCENARIO;

fn watch(bench: &Bench, size: (u16, u16)) -> OnTerminal {
    let log = bench.write("still.log", recorded(SCENARIO, 2.0));
    OnTerminal::start(bench.command(&["watch", "--replay", &log]), size)
}

/// What follows the last leaving of the screen: nothing is drawn there any more.
fn after_the_screen(seen: &str) -> &str {
    seen.rsplit_once(GIVES_IT_BACK).unwrap_or_else(|| panic!("never given back: {}", seen.escape_debug())).1
}

fn is_given_back(terminal: &OnTerminal, what: &str) {
    let seen = terminal.seen();
    let after = after_the_screen(&seen);
    let last = seen.rsplit_once(SHOWS_THE_CURSOR).map_or("", |(_, after)| after);
    assert!(seen.contains(SHOWS_THE_CURSOR) && !last.contains("\x1b[?25l"), "{what}: {}", after.escape_debug());
    assert!(!after.contains(TAKES_THE_SCREEN) && !after.contains(";1H"), "{what}: {}", after.escape_debug());
}

/// Whether whoever runs the tests ignores a signal, as a shell does for what it runs in the background: a program inherits that, and
/// what is ignored ends nothing.
fn is_ignored_here(signal: Signal) -> bool {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let ignored = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    let ignored = ignored.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()).unwrap_or(0);
    ignored & (1 << (signal.as_raw() - 1)) != 0
}

#[test]
fn every_signal_that_ends_watch_gives_the_terminal_back() {
    let bench = Bench::with_setup();
    let ends = [Signal::INT, Signal::TERM, Signal::HUP, Signal::QUIT];
    let ends = ends.into_iter().filter(|signal| !is_ignored_here(*signal)).map(Some);
    // The last one ends by a key.
    for signal in ends.chain([None]) {
        let mut terminal = watch(&bench, (100, 36));
        let before = terminal.modes();
        terminal.wait_for(0, "── The sheet");
        assert_ne!(terminal.modes(), before, "it reads keys");
        match signal {
            Some(signal) => terminal.send(signal),
            None => terminal.press("q"),
        }
        let status = terminal.end();
        assert_eq!(status.code(), Some(0), "{signal:?}: {:?}", status.signal());
        assert_eq!(terminal.modes(), before, "{signal:?}");
        is_given_back(&terminal, &format!("{signal:?}"));
    }
}

#[test]
fn watch_that_is_stopped_gives_the_terminal_back_and_draws_anew_when_it_goes_on() {
    let bench = Bench::with_setup();
    let mut terminal = watch(&bench, (100, 36));
    let before = terminal.modes();
    terminal.wait_for(0, "── The sheet");
    let raw = terminal.modes();
    // From outside, and by the key.
    for by_key in [false, true] {
        if by_key {
            terminal.press("\x1a");
        } else {
            terminal.send(Signal::TSTP);
        }
        terminal.wait_until_stopped();
        assert_eq!(terminal.modes(), before, "by key: {by_key}");
        is_given_back(&terminal, "stopped");
        let drawn = terminal.count();
        terminal.send(Signal::CONT);
        terminal.wait_for(drawn, TAKES_THE_SCREEN);
        terminal.wait_for(drawn, "── The sheet");
        assert_eq!(terminal.modes(), raw, "by key: {by_key}");
    }
    terminal.press("q");
    assert_eq!(terminal.end().code(), Some(0));
    assert_eq!(terminal.modes(), before);
}

/// Whoever lets a program ignore the hang-up (`nohup`) wants it to go on.
#[test]
fn a_hang_up_that_is_ignored_ends_nothing() {
    let bench = Bench::with_setup();
    let log = bench.write("still.log", recorded(SCENARIO, 2.0));
    let program = bench.command(&["watch", "--replay", &log]);
    let mut command = std::process::Command::new("sh");
    command.args(["-c", "trap '' HUP; exec \"$@\"", "sh"]).arg(program.get_program()).args(program.get_args());
    command.envs(program.get_envs().filter_map(|(name, value)| Some((name, value?))));
    let mut terminal = OnTerminal::start(command, (100, 36));
    terminal.wait_for(0, "── The sheet");
    terminal.send(Signal::HUP);
    // It still does what the keys say.
    let drawn = terminal.count();
    terminal.press("o");
    terminal.wait_for(drawn, "Order of the steps");
    terminal.press("q");
    assert_eq!(terminal.end().code(), Some(0));
}

/// A size that cannot be, as some lines over a network have it.
#[cfg(target_os = "linux")]
#[test]
fn a_terminal_of_any_size_is_drawn_on_within_bounds() {
    let bench = Bench::with_setup();
    for size in [(65_535, 65_535), (65_535, 1), (1, 65_535), (0, 0), (1, 1)] {
        // At the start, and later on.
        for late in [false, true] {
            let mut terminal = watch(&bench, if late { (100, 36) } else { size });
            terminal.wait_for(0, TAKES_THE_SCREEN);
            if late {
                terminal.wait_for(0, "── The sheet");
                terminal.resize(size);
                terminal.send(Signal::WINCH);
            }
            // A good many drawings.
            std::thread::sleep(std::time::Duration::from_millis(700));
            assert!(terminal.memory() < 200, "{size:?}: {} MiB", terminal.memory());
            let drawn = terminal.count();
            terminal.resize((100, 36));
            terminal.send(Signal::WINCH);
            terminal.wait_for(drawn, "── The sheet");
            terminal.press("q");
            assert_eq!(terminal.end().code(), Some(0), "{size:?}");
        }
        for arguments in [&["--help"][..], &["capture", "--help"], &["setup", "list"], &["capture", "nowhere"]] {
            let mut command = bench.command(arguments);
            command.env_remove("COLUMNS");
            let mut terminal = OnTerminal::start(command, size);
            let code = terminal.end().code();
            assert_eq!(code, Some(if arguments.contains(&"nowhere") { 2 } else { 0 }), "{size:?} {arguments:?}");
            assert!(terminal.count() > 20, "{size:?} {arguments:?}");
        }
    }
}
