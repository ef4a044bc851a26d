//! The section `[frame]`: declared binary frames.

use super::Mistake;
use super::direction::Angles;
use super::place::Fault;
use super::text::TimeUnit;
use super::values::{Counted, First, Place, Values, section};
use crate::codec::{Checksum, FrameChecksum, FrameLayout, LONGEST_FRAME, UnknownChecksum};
use serde::{Deserialize, Serialize};
use std::ops::Not;

section! {
    /// The section `[frame]`.
    FrameSection {
        #[serde(default, skip_serializing_if = "String::is_empty")]
        sync: String,
        length: u16,
        #[serde(default, skip_serializing_if = "Not::not")]
        cobs: bool,
        order: First,
        #[serde(skip_serializing_if = "Option::is_none")]
        checksum: Option<ChecksumPlace>,
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ChecksumPlace {
    kind: String,
    at: u16,
    #[serde(default, skip_serializing_if = "is_zero")]
    from: u16,
    #[serde(skip_serializing_if = "Option::is_none")]
    order: Option<First>,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde passes a reference")]
const fn is_zero(number: &u16) -> bool {
    *number == 0
}

impl FrameSection {
    pub(super) fn layout(&self) -> Result<FrameLayout, Fault> {
        let length = usize::from(self.length);
        let sync =
            hexadecimal(&self.sync).ok_or_else(|| Fault::at(&["sync"], Mistake::NotHexadecimal(self.sync.clone())))?;
        if length == 0 || length > LONGEST_FRAME {
            return Err(Fault::at(&["length"], Mistake::FrameLength));
        }
        if sync.len() > length {
            return Err(Fault::at(&["sync"], Mistake::SyncTooLong));
        }
        if sync.is_empty() && !self.cobs {
            return Err(Fault::at(&["sync"], Mistake::SyncMissing));
        }
        let checksum = self.checksum.as_ref().map(|place| place.checksum(length, self.order)).transpose()?;
        let carried = self.values().carried(Counted::Bytes { length, order: self.order })?;
        Ok(FrameLayout { sync, length, cobs: self.cobs, carried, checksum: checksum.flatten() })
    }

    pub(super) fn of(layout: &FrameLayout) -> Self {
        let sync: Vec<String> = layout.sync.iter().map(|byte| format!("{byte:02X}")).collect();
        Self::assembled(
            sync.join(" "),
            u16::try_from(layout.length).unwrap_or(u16::MAX),
            layout.cobs,
            First::Little,
            layout.checksum.as_ref().map(ChecksumPlace::of),
            Values::of(&layout.carried, |field| Place::of(field, field.at, First::Little)),
        )
    }
}

impl ChecksumPlace {
    fn checksum(&self, length: usize, order: First) -> Result<Option<FrameChecksum>, Fault> {
        if self.kind.eq_ignore_ascii_case("none") {
            return Ok(None);
        }
        let fault = |key: &str, mistake: Mistake| Fault::at(&["checksum", key], mistake);
        let no_checksum = |UnknownChecksum(name)| fault("kind", Mistake::NoChecksum(name));
        let sum: Checksum = self.kind.parse().map_err(no_checksum)?;
        let (at, from) = (usize::from(self.at), usize::from(self.from));
        if at + sum.width() > length {
            return Err(fault("at", Mistake::ChecksumOutside { length }));
        }
        if from >= at {
            return Err(fault("from", Mistake::ChecksumFrom));
        }
        Ok(Some(FrameChecksum { sum, at, from, big_endian: self.order.unwrap_or(order) == First::Big }))
    }

    fn of(checksum: &FrameChecksum) -> Self {
        Self {
            kind: checksum.sum.name().to_owned(),
            at: u16::try_from(checksum.at).unwrap_or(u16::MAX),
            from: u16::try_from(checksum.from).unwrap_or(u16::MAX),
            order: checksum.big_endian.then_some(First::Big),
        }
    }
}

fn hexadecimal(text: &str) -> Option<Vec<u8>> {
    let digits: Vec<u8> = text.bytes().filter(|byte| !byte.is_ascii_whitespace()).collect();
    if digits.len() % 2 == 1 {
        return None;
    }
    let digit = |byte: u8| char::from(byte).to_digit(16).and_then(|digit| u8::try_from(digit).ok());
    digits.chunks(2).map(|pair| Some(digit(*pair.first()?)? << 4 | digit(*pair.get(1)?)?)).collect()
}
