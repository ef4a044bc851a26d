//! What the reference firmware reports of its own accelerometer: `$PCLIF,seq,micros,word*hh`.

use super::BadFrame;
use super::number::Cursor;
use serde::{Deserialize, Serialize};

const ADDRESS: &[u8] = b"PCLIF,";

/// Why a sensor's board has no sample to send.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SensorFault {
    /// The clock line of its bus is held low.
    ClockHeld,
    /// The data line of its bus is held low.
    DataHeld,
    /// The chip does not acknowledge its address.
    NoAnswer,
    /// The chip does not acknowledge what it is sent.
    Refused,
    /// The chip is not the one that the firmware is written for.
    WrongChip,
    /// The chip answers, but measures nothing.
    NoNewData,
    /// The firmware hung, and its watchdog started it again.
    Watchdog,
    /// A word that is not known here.
    Other,
}

impl SensorFault {
    fn from_word(word: &[u8]) -> Self {
        match word {
            b"clock-held" => Self::ClockHeld,
            b"data-held" => Self::DataHeld,
            b"no-answer" => Self::NoAnswer,
            b"refused" => Self::Refused,
            b"wrong-chip" => Self::WrongChip,
            b"no-new-data" => Self::NoNewData,
            b"watchdog" => Self::Watchdog,
            _ => Self::Other,
        }
    }
}

/// What a whole sentence is that brings no sample: a report, or another's.
pub(super) fn report(body: &[u8]) -> BadFrame {
    body.strip_prefix(ADDRESS)
        .map_or(BadFrame::Foreign, |fields| word(Cursor(fields)).map_or(BadFrame::Field, BadFrame::Fault))
}

fn word(mut fields: Cursor<'_>) -> Option<SensorFault> {
    fields.unsigned(u32::from(u16::MAX))?;
    fields.comma()?;
    fields.unsigned(u32::MAX)?;
    fields.comma()?;
    let fits = !fields.0.is_empty() && fields.0.iter().all(|byte| byte.is_ascii_lowercase() || *byte == b'-');
    fits.then(|| SensorFault::from_word(fields.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_report_is_taken_whole_or_not_at_all() {
        assert_eq!(report(b"PCLIF,302,1510005,clock-held"), BadFrame::Fault(SensorFault::ClockHeld));
        assert_eq!(report(b"PCLIF,0,0,watchdog"), BadFrame::Fault(SensorFault::Watchdog));
        assert_eq!(report(b"PCLIF,65535,4294967295,something-new"), BadFrame::Fault(SensorFault::Other));
        for damaged in
            [&b"PCLIF,302,1510005,"[..], b"PCLIF,302,clock-held", b"PCLIF,65536,1,refused", b"PCLIF,1,2,Held"]
        {
            assert_eq!(report(damaged), BadFrame::Field, "{}", damaged.escape_ascii());
        }
        assert_eq!(report(b"GPGLL,4916.45"), BadFrame::Foreign);
        assert_eq!(report(b"PCLIF"), BadFrame::Foreign);
    }

    #[test]
    fn each_word_is_that_of_its_name() {
        for fault in [
            SensorFault::ClockHeld,
            SensorFault::DataHeld,
            SensorFault::NoAnswer,
            SensorFault::Refused,
            SensorFault::WrongChip,
            SensorFault::NoNewData,
            SensorFault::Watchdog,
        ] {
            let word = serde_json::to_string(&fault).unwrap();
            assert_eq!(SensorFault::from_word(word.trim_matches('"').as_bytes()), fault);
        }
    }
}
