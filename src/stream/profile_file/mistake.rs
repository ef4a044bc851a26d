//! What may be wrong in a profile file.

/// A value that cannot be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Mistake {
    /// One direction is told in two ways.
    TwoDirections,
    /// `angles` without pitch and roll.
    AnglesMeaning,
    /// Not all three of x, y and z.
    AxesMissing,
    /// Not both of pitch and roll.
    AnglesMissing,
    /// No direction at all.
    DirectionMissing,
    /// Sync bytes that are not hexadecimal.
    NotHexadecimal(String),
    /// A frame that is empty, or longer than [`LONGEST_FRAME`](crate::codec::LONGEST_FRAME).
    FrameLength,
    /// More sync bytes than the frame has.
    SyncTooLong,
    /// Neither sync bytes nor COBS.
    SyncMissing,
    /// A checksum that ends behind the frame.
    ChecksumOutside {
        /// Bytes of the frame.
        length: usize,
    },
    /// A checksum over bytes behind it.
    ChecksumFrom,
    /// A checksum that nobody knows.
    NoChecksum(String),
    /// Counts per g, or a unit, of a sensor of angles.
    CountsOfAngles,
    /// Both counts per g and a unit.
    CountsAndUnit,
    /// Neither of them.
    UnitMissing,
    /// A section of another format.
    OtherSection(&'static str),
    /// The format's own section is missing.
    SectionMissing(&'static str),
    /// A slave's address out of its range.
    SlaveAddress,
    /// More than [`MOST_REGISTERS`](crate::codec::MOST_REGISTERS) from the first register to the last.
    RegistersApart,
    /// A column beyond [`MOST_COLUMNS`](crate::codec::MOST_COLUMNS).
    ColumnTooHigh(u8),
    /// What cannot be a label.
    NoLabel(String),
    /// What cannot be a transducer's name.
    NoTransducer,
    /// Neither pitch and roll nor tilt in an `[xdr]` section.
    XdrAngles,
    /// One column, label or name for two things.
    Twice {
        /// Which of them it is.
        kind: Holder,
        /// The column, label or name.
        name: String,
    },
    /// A clock without its unit.
    TimeUnitMissing,
    /// A unit without a clock.
    TimeMissing,
    /// A clock or counter that is not a plain unsigned number.
    NotUnsigned(&'static str),
    /// A scale of 0, or scale or offset that is no finite number.
    Scale,
    /// A number that ends behind the frame.
    Outside {
        /// Its key.
        key: String,
        /// Bytes of the frame.
        length: usize,
    },
    /// A number of half a register.
    HalfRegister,
    /// Counts per g of zero or less.
    CountsPerG,
    /// A full scale of zero or less.
    FullScale,
    /// A line speed of zero.
    Baud,
    /// A rate of zero or less, or above 10 kHz.
    Rate,
}

/// What holds a number in a line of text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holder {
    /// A column.
    Column,
    /// A label.
    Label,
    /// A transducer's name.
    Name,
}
