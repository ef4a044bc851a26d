//! Recognises a wrong baud or profile: bytes arrive, and none of them make a frame.

use super::codec::Refusal;
use super::decoder::SampleDecoder;
use super::error::StreamError;
use super::profile::Profile;
use std::time::Duration;
use tokio::time::Instant;

/// How long undecodable bytes may arrive before the first sample: the person is told within two seconds.
const PATIENCE_AT_START: Duration = Duration::from_millis(1800);
/// And between two samples, or while the sensor reports a fault: an interference may pass.
const PATIENCE_LATER: Duration = Duration::from_secs(5);
/// Fewer bytes say nothing about a profile.
const FEWEST_BYTES: usize = 32;
/// A log is given up when so many bytes from its start brought nothing.
const LOG_BYTES: u64 = 65_536;
const KEPT: usize = 2048;
const SHOWN_TEXT: usize = 60;
const SHOWN_BYTES: usize = 16;
const USUAL_BAUDS: [u32; 9] = [9600, 19_200, 38_400, 57_600, 115_200, 230_400, 460_800, 921_600, 1_000_000];

/// The bytes that came since the last sample, as far as they are worth showing.
#[derive(Debug, Default)]
pub(super) struct Undecoded {
    bytes: Vec<u8>,
    since: Option<Instant>,
    any_sample: bool,
    proven: bool,
}

impl Undecoded {
    pub(super) fn received(&mut self, bytes: &[u8], now: Instant) {
        let room = KEPT.saturating_sub(self.bytes.len());
        self.bytes.extend_from_slice(bytes.get(..room).unwrap_or(bytes));
        self.since.get_or_insert(now);
    }

    pub(super) fn sample(&mut self) {
        (self.any_sample, self.proven) = (true, true);
        self.bytes.clear();
        self.since = None;
    }

    /// No sample, but a frame all the same: baud and profile are right.
    pub(super) fn frame(&mut self) {
        self.proven = true;
    }

    /// The line was opened again: what came before says nothing about what comes now, but the profile is proven.
    pub(super) fn reopened(&mut self) {
        self.bytes.clear();
        self.since = None;
    }

    /// When a live stream that goes on like this is given up.
    pub(super) fn deadline(&self) -> Option<Instant> {
        let patience = if self.proven { PATIENCE_LATER } else { PATIENCE_AT_START };
        self.since.filter(|_| self.bytes.len() >= FEWEST_BYTES).map(|since| since + patience)
    }

    /// Whether a log's first bytes have shown enough.
    pub(super) fn log_is_hopeless(&self, received: u64) -> bool {
        !self.any_sample && received >= LOG_BYTES
    }

    pub(super) const fn any_sample(&self) -> bool {
        self.any_sample
    }

    pub(super) fn error(&self, from: &str, profile: &Profile, serial: bool) -> StreamError {
        StreamError::NothingDecodes {
            from: from.to_owned(),
            profile: profile.name().to_owned(),
            shown: shown(&self.bytes),
            advice: advice(&self.bytes, profile, serial),
        }
    }
}

/// Whether bytes read like text.
pub(super) fn is_text(bytes: &[u8]) -> bool {
    let readable = bytes.iter().filter(|byte| matches!(byte, b' '..=b'~' | b'\t' | b'\r' | b'\n')).count();
    readable * 20 >= bytes.len() * 19
}

pub(super) fn shown(bytes: &[u8]) -> String {
    let more = |shown: usize| if bytes.len() > shown { "…" } else { "" };
    if is_text(bytes) {
        let head = bytes.get(..SHOWN_TEXT).unwrap_or(bytes);
        format!("\"{}\"{}", head.escape_ascii(), more(SHOWN_TEXT))
    } else {
        let head = bytes.get(..SHOWN_BYTES).unwrap_or(bytes);
        let hex: Vec<String> = head.iter().map(|byte| format!("{byte:02x}")).collect();
        format!("{}{} (hexadecimal)", hex.join(" "), more(SHOWN_BYTES))
    }
}

/// What bytes that make no frames suggest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Advice {
    /// A slave refuses what it is asked.
    Refused(Refusal),
    /// They are frames of these built-in profiles.
    OtherProfiles(Vec<&'static str>),
    /// They are readable text, so that the line speed is right: no built-in profile describes it.
    Text,
    /// They are no text: this is probably not the sensor's line speed.
    Baud {
        /// The one that was tried.
        tried: u32,
        /// The others that are usual.
        others: Vec<u32>,
    },
    /// They are no text, and there is no line speed to change.
    NoText,
}

fn advice(bytes: &[u8], profile: &Profile, serial: bool) -> Advice {
    if let super::Format::Modbus(layout) = profile.format()
        && let Some(refusal) = layout.refusal(bytes)
    {
        return Advice::Refused(refusal);
    }
    let others = Profile::BUILT_IN.into_iter().filter(|name| *name != profile.name());
    let fits = |name: &&str| Profile::built_in(name).is_some_and(|other| decodes(&other, bytes));
    let fitting: Vec<&str> = others.filter(fits).collect();
    if !fitting.is_empty() {
        Advice::OtherProfiles(fitting)
    } else if is_text(bytes) {
        Advice::Text
    } else if serial {
        let tried = profile.baud();
        Advice::Baud { tried, others: USUAL_BAUDS.into_iter().filter(|baud| *baud != tried).collect() }
    } else {
        Advice::NoText
    }
}

/// Whether most lines of the bytes make frames of another profile.
fn decodes(profile: &Profile, bytes: &[u8]) -> bool {
    let (_, counters) = SampleDecoder::all(profile, bytes);
    counters.good > counters.damaged()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_shown_as_text_and_bytes_as_hexadecimal() {
        assert_eq!(shown(b"x:1\r\n"), r#""x:1\r\n""#);
        assert_eq!(shown(&[0xf8, 0x00, 0x7e]), "f8 00 7e (hexadecimal)");
        assert!(shown(&[0xff; 99]).ends_with("ff… (hexadecimal)"));
    }

    #[test]
    fn advice_names_the_profile_that_fits_else_the_other_bauds() {
        let labelled = b"1 z:0.9\r\nx:0.1 y:0.0 z:0.99\r\nx:0.1 y:0.0 z:0.98\r\n";
        assert_eq!(advice(labelled, &Profile::sentence(), true), Advice::OtherProfiles(vec!["labelled"]));
        let columns = b"9\r\n0.1,0.0,0.99\r\n0.1,0.0,0.98\r\n";
        assert_eq!(advice(columns, &Profile::sentence(), true), Advice::OtherProfiles(vec!["columns"]));
        let noise = advice(&[0xf8, 0x80, 0x06, 0xfe, 0x00], &Profile::sentence(), true);
        assert!(
            matches!(&noise, Advice::Baud { tried: 115_200, others } if others.contains(&57_600) && !others.contains(&115_200)),
            "{noise:?}"
        );
        assert_eq!(advice(b"hello, this is a remark\r\n", &Profile::sentence(), true), Advice::Text);
        assert_eq!(advice(&[0xf8, 0x80, 0x06, 0xfe, 0x00], &Profile::sentence(), false), Advice::NoText);
    }
}
