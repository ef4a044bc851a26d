//! Recognises a wrong baud or profile: bytes arrive, and none of them make a frame.

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

fn advice(bytes: &[u8], profile: &Profile, serial: bool) -> String {
    if let super::Format::Modbus(layout) = profile.format()
        && let Some(refusal) = layout.refusal(bytes)
    {
        return refusal;
    }
    let fitting: Vec<String> = Profile::BUILT_IN
        .into_iter()
        .filter(|name| *name != profile.name())
        .filter_map(Profile::built_in)
        .filter(|other| decodes(other, bytes))
        .map(|other| format!("--profile {}", other.name()))
        .collect();
    if !fitting.is_empty() {
        return format!("they do decode otherwise: try {}", fitting.join(" or "));
    }
    if is_text(bytes) {
        return "they are readable text, so the baud is right: try a profile file that says which number is which"
            .to_owned();
    }
    if serial {
        let others: Vec<String> =
            USUAL_BAUDS.iter().filter(|baud| **baud != profile.baud()).map(ToString::to_string).collect();
        return format!(
            "they are no text: {} is probably not the sensor's baud, try --baud {}",
            profile.baud(),
            others.join(", ")
        );
    }
    "they are no text: is this the right source, and a sensor that sends lines?".to_owned()
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
        assert!(advice(labelled, &Profile::sentence(), true).contains("--profile labelled"));
        let columns = b"9\r\n0.1,0.0,0.99\r\n0.1,0.0,0.98\r\n";
        assert!(advice(columns, &Profile::sentence(), true).contains("--profile columns"));
        let noise = advice(&[0xf8, 0x80, 0x06, 0xfe, 0x00], &Profile::sentence(), true);
        assert!(
            noise.contains("--baud") && noise.contains("57600") && noise.contains("115200 is probably not"),
            "{noise}"
        );
        assert!(advice(b"hello, this is a remark\r\n", &Profile::sentence(), true).contains("profile file"));
    }
}
