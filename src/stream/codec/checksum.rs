//! Checksums of binary frames, by name: the plain sums, and the CRCs of the catalogue of parametrised CRC algorithms.

use crc::Crc;
use std::fmt;
use std::str::FromStr;

/// How the bytes of a frame are summed up.
#[derive(Clone, Copy)]
pub struct Checksum {
    name: &'static str,
    sum: Sum,
}

#[derive(Clone, Copy)]
enum Sum {
    Sum8,
    Xor8,
    Crc8(&'static Crc<u8>),
    Crc16(&'static Crc<u16>),
}

// Each with its table of 256 entries, made when the program is built.
macro_rules! known {
    (@ Crc8) => { u8 };
    (@ Crc16) => { u16 };
    ($($name:literal $width:ident $algorithm:ident),* $(,)?) => {
        &[
            Checksum { name: "sum8", sum: Sum::Sum8 },
            Checksum { name: "xor8", sum: Sum::Xor8 },
            $(Checksum { name: $name, sum: Sum::$width(const { &Crc::<known!(@ $width)>::new(&crc::$algorithm) }) }),*
        ]
    };
}

impl Checksum {
    /// All that can be named. The CRCs stand under their names in the catalogue.
    pub const KNOWN: &'static [Self] = known![
        "CRC-8/AUTOSAR" Crc8 CRC_8_AUTOSAR,
        "CRC-8/BLUETOOTH" Crc8 CRC_8_BLUETOOTH,
        "CRC-8/CDMA2000" Crc8 CRC_8_CDMA2000,
        "CRC-8/DARC" Crc8 CRC_8_DARC,
        "CRC-8/DVB-S2" Crc8 CRC_8_DVB_S2,
        "CRC-8/GSM-A" Crc8 CRC_8_GSM_A,
        "CRC-8/GSM-B" Crc8 CRC_8_GSM_B,
        "CRC-8/HITAG" Crc8 CRC_8_HITAG,
        "CRC-8/I-432-1" Crc8 CRC_8_I_432_1,
        "CRC-8/I-CODE" Crc8 CRC_8_I_CODE,
        "CRC-8/LTE" Crc8 CRC_8_LTE,
        "CRC-8/MAXIM-DOW" Crc8 CRC_8_MAXIM_DOW,
        "CRC-8/MIFARE-MAD" Crc8 CRC_8_MIFARE_MAD,
        "CRC-8/NRSC-5" Crc8 CRC_8_NRSC_5,
        "CRC-8/OPENSAFETY" Crc8 CRC_8_OPENSAFETY,
        "CRC-8/ROHC" Crc8 CRC_8_ROHC,
        "CRC-8/SAE-J1850" Crc8 CRC_8_SAE_J1850,
        "CRC-8/SMBUS" Crc8 CRC_8_SMBUS,
        "CRC-8/TECH-3250" Crc8 CRC_8_TECH_3250,
        "CRC-8/WCDMA" Crc8 CRC_8_WCDMA,
        "CRC-16/ARC" Crc16 CRC_16_ARC,
        "CRC-16/CDMA2000" Crc16 CRC_16_CDMA2000,
        "CRC-16/CMS" Crc16 CRC_16_CMS,
        "CRC-16/DDS-110" Crc16 CRC_16_DDS_110,
        "CRC-16/DECT-R" Crc16 CRC_16_DECT_R,
        "CRC-16/DECT-X" Crc16 CRC_16_DECT_X,
        "CRC-16/DNP" Crc16 CRC_16_DNP,
        "CRC-16/EN-13757" Crc16 CRC_16_EN_13757,
        "CRC-16/GENIBUS" Crc16 CRC_16_GENIBUS,
        "CRC-16/GSM" Crc16 CRC_16_GSM,
        "CRC-16/IBM-3740" Crc16 CRC_16_IBM_3740,
        "CRC-16/IBM-SDLC" Crc16 CRC_16_IBM_SDLC,
        "CRC-16/ISO-IEC-14443-3-A" Crc16 CRC_16_ISO_IEC_14443_3_A,
        "CRC-16/KERMIT" Crc16 CRC_16_KERMIT,
        "CRC-16/LJ1200" Crc16 CRC_16_LJ1200,
        "CRC-16/M17" Crc16 CRC_16_M17,
        "CRC-16/MAXIM-DOW" Crc16 CRC_16_MAXIM_DOW,
        "CRC-16/MCRF4XX" Crc16 CRC_16_MCRF4XX,
        "CRC-16/MODBUS" Crc16 CRC_16_MODBUS,
        "CRC-16/NRSC-5" Crc16 CRC_16_NRSC_5,
        "CRC-16/OPENSAFETY-A" Crc16 CRC_16_OPENSAFETY_A,
        "CRC-16/OPENSAFETY-B" Crc16 CRC_16_OPENSAFETY_B,
        "CRC-16/PROFIBUS" Crc16 CRC_16_PROFIBUS,
        "CRC-16/RIELLO" Crc16 CRC_16_RIELLO,
        "CRC-16/SPI-FUJITSU" Crc16 CRC_16_SPI_FUJITSU,
        "CRC-16/T10-DIF" Crc16 CRC_16_T10_DIF,
        "CRC-16/TELEDISK" Crc16 CRC_16_TELEDISK,
        "CRC-16/TMS37157" Crc16 CRC_16_TMS37157,
        "CRC-16/UMTS" Crc16 CRC_16_UMTS,
        "CRC-16/USB" Crc16 CRC_16_USB,
        "CRC-16/XMODEM" Crc16 CRC_16_XMODEM,
    ];

    /// CRC-16/MODBUS, which ends every frame of Modbus RTU.
    pub const MODBUS: Self =
        Self { name: "CRC-16/MODBUS", sum: Sum::Crc16(const { &Crc::<u16>::new(&crc::CRC_16_MODBUS) }) };

    /// CRC-16/IBM-3740.
    pub const IBM_3740: Self =
        Self { name: "CRC-16/IBM-3740", sum: Sum::Crc16(const { &Crc::<u16>::new(&crc::CRC_16_IBM_3740) }) };

    /// Its name.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        self.name
    }

    /// How many bytes it takes in a frame: 1 or 2.
    #[must_use]
    pub const fn width(&self) -> usize {
        if matches!(self.sum, Sum::Crc16(_)) { 2 } else { 1 }
    }

    /// The checksum of the bytes.
    #[must_use]
    pub fn of(&self, bytes: &[u8]) -> u16 {
        match self.sum {
            Sum::Sum8 => bytes.iter().fold(0u8, |sum, byte| sum.wrapping_add(*byte)).into(),
            Sum::Xor8 => bytes.iter().fold(0u8, |sum, byte| sum ^ byte).into(),
            Sum::Crc8(crc) => crc.checksum(bytes).into(),
            Sum::Crc16(crc) => crc.checksum(bytes),
        }
    }
}

/// A name that no checksum has.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("no checksum: {0}")]
pub struct UnknownChecksum(pub String);

impl PartialEq for Checksum {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

impl fmt::Debug for Checksum {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name)
    }
}

impl FromStr for Checksum {
    type Err = UnknownChecksum;

    /// By its name, capital and small letters alike.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let known = Self::KNOWN.iter().find(|known| known.name.eq_ignore_ascii_case(text.trim()));
        known.copied().ok_or_else(|| UnknownChecksum(text.to_owned()))
    }
}
