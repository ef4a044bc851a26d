//! Why a stream brings no samples, and what a sensor cannot show.

use super::{Face, Say, errors, one_line};
use clinoblade_stream::codec::{
    FrameChecksum, LONGEST_FRAME, Limit, MOST_COLUMNS, MOST_REGISTERS, Refusal, SensorFault,
};
use clinoblade_stream::file::FileLimit;
use clinoblade_stream::ports::{Obstacle, Parity, PortReport};
use clinoblade_stream::propose::{Doubt, ProposeError};
use clinoblade_stream::{Advice, Asked, Holder, Mark, Mistake, Profile, ProfileError, StreamError};

/// What stands in the way; stands behind a colon.
impl Say for Obstacle {
    fn say(&self, face: Face) -> String {
        match self {
            Self::InUse { by: Some(by) } => format!("in use by {by}. Close that program."),
            Self::InUse { by: None } => "in use. Close the other program that reads it.".to_owned(),
            Self::NotPermitted { group: Some(group) } => format!(
                "no permission: it belongs to the group {group}. Join it{}, then log out and in again.",
                face.command(&format!(" with `sudo usermod -aG {group} $USER`"), "")
            ),
            Self::NotPermitted { group: None } => {
                "no permission, and no group has it. Ask the computer's administrator.".to_owned()
            }
            Self::Gone => format!(
                "it is gone, or was never there. Plug the sensor in{}.",
                face.command("; `clinoblade ports` lists what is there", "")
            ),
            Self::NotSerial => {
                format!("it is not a serial port.{}", face.command(" `clinoblade ports` lists those that are.", ""))
            }
            Self::Another => "another device is plugged in there. Plug the sensor in again, at any port.".to_owned(),
        }
    }
}

impl Say for PortReport {
    fn say(&self, face: Face) -> String {
        let mut line = one_line(&self.path).into_owned();
        if let Some(usb) = &self.usb {
            line += &format!("  {}", one_line(usb.product.as_deref().unwrap_or("USB device")));
            if let Some(number) = &usb.serial_number {
                line += &format!(", serial number {}", one_line(number));
            }
        }
        match &self.obstacle {
            Some(obstacle) => format!("{line}: {}", obstacle.say(face)),
            None => line,
        }
    }
}

/// Stands within a sentence.
impl Say for Parity {
    fn say(&self, _: Face) -> String {
        match self {
            Self::None => "no parity",
            Self::Even => "even parity",
            Self::Odd => "odd parity",
        }
        .to_owned()
    }
}

/// Stands within a sentence.
impl Say for Asked {
    fn say(&self, face: Face) -> String {
        format!("Modbus slave {} at {} baud, {}", self.address, self.baud, self.parity.say(face))
    }
}

/// What is wrong, and what to do; stands behind a colon.
impl Say for SensorFault {
    fn say(&self, _: Face) -> String {
        match self {
            Self::ClockHeld => {
                "the clock line of its bus is held low. Look for a short or a crushed cable between the board and the accelerometer."
            }
            Self::DataHeld => {
                "the data line of its bus is held low. Look for a short between the board and the accelerometer, then switch its supply \
                 off and on."
            }
            Self::NoAnswer => {
                "the accelerometer does not answer. Check its supply and its two bus wires, and that its address is the firmware's."
            }
            Self::Refused => "the accelerometer refuses what it is sent. Switch its supply off and on.",
            Self::WrongChip => "its accelerometer is not the one the firmware is written for. See the firmware's chip.h.",
            Self::NoNewData => {
                "the accelerometer answers, but measures nothing. Switch its supply off and on; if it comes back, the supply is too weak."
            }
            Self::Watchdog => "its firmware hangs and restarts again and again. Its supply is disturbed, or the board is broken.",
            Self::Other => "it reports an unknown fault. Look at its lines in a serial monitor.",
        }
        .to_owned()
    }
}

impl Say for Refusal {
    fn say(&self, face: Face) -> String {
        let why = match self.code {
            1 => {
                let try_other = face.command(" Try registers = \"holding\" or \"input\" in the profile.", "");
                format!("it does not know this function.{try_other}")
            }
            2 => {
                let last = self.first + self.count.saturating_sub(1);
                format!("it has no registers {} to {last}. See its manual.", self.first)
            }
            3 => "it does not give that many registers at once. See its manual.".to_owned(),
            4 => "it failed. Switch it off and on.".to_owned(),
            code => format!("its exception code is {code}. See its manual."),
        };
        format!("Slave {} answers and refuses: {why}", self.address)
    }
}

impl Say for Advice {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Refused(refusal) => refusal.say(face),
            Self::OtherProfiles(names) => {
                let named: Vec<String> =
                    names.iter().map(|name| face.command("--profile ", "").to_owned() + name).collect();
                format!("They fit another profile: use {}.", named.join(" or "))
            }
            Self::Text => format!(
                "They are readable text, so the line speed is right. Make a profile that tells which number is which{}.",
                face.command(": `clinoblade sensor profile new --out NAME.toml`", "")
            ),
            Self::Baud { tried, others } => {
                let others: Vec<String> = others.iter().map(ToString::to_string).collect();
                format!(
                    "They are not text: {tried} is probably not the sensor's line speed. Try {}{}{}.",
                    face.command("--baud ", ""),
                    others.join(", "),
                    face.command(", or let `clinoblade sensor identify` find it", "")
                )
            }
            Self::NoText => "They are not text. Check that this is the right source and profile.".to_owned(),
        }
    }
}

impl Say for StreamError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Port { path, obstacle } => {
                let path = one_line(path);
                format!("Cannot open the port {path}: {}", obstacle.say(face))
            }
            Self::PortRefused { path, baud, reason } => {
                let path = one_line(path);
                let reason = one_line(reason);
                format!(
                    "Cannot open the port {path} at {baud} baud ({reason}). Unplug the sensor and plug it in again{}.",
                    face.command(", or try another --baud", "")
                )
            }
            Self::Connect { address, source } => {
                let address = one_line(address);
                format!(
                    "No connection to {address} ({source}). Check that it is switched on, on the same network, and that the port number is right."
                )
            }
            Self::Log { path, source } if FileLimit::of(source).is_some() => {
                errors::file(&path.display().to_string(), source)
            }
            Self::Log { path, source } => {
                let path = path.display().to_string();
                let path = one_line(&path);
                format!("Cannot read the log {path} ({source}). Check its name and your access rights.")
            }
            Self::EmptyLog { from } => {
                let from = one_line(from);
                format!("{from} is empty: there is nothing to replay.")
            }
            Self::NoTime { profile } => {
                let profile = one_line(profile);
                format!(
                    "A replay with the profile {profile} has no time, because its lines carry no clock. Name the rate{}.",
                    face.command(", such as --rate-hz 100, or rate_hz = 100 in the profile", "")
                )
            }
            Self::Unplugged { from } => {
                let from = one_line(from);
                format!("{from} is gone: the cable came off, or the sensor lost its power. Plug it in again.")
            }
            Self::Disconnected { from } => {
                let from = one_line(from);
                format!(
                    "{from} is gone: the other end closed the connection, or the network failed. Check that it is switched on and in reach."
                )
            }
            Self::Silent { from, seconds } => {
                let from = one_line(from);
                format!(
                    "No data from {from} for {seconds} s. Check that the sensor is powered, its cable firm, and this is the right port."
                )
            }
            Self::StandsStill { from, seconds } => {
                let from = one_line(from);
                format!(
                    "The sensor at {from} has sent the same sample for {seconds} s: its clock and its counter stand still. Unplug it and plug it \
                 in again."
                )
            }
            Self::NoAnswer { from, asked, seconds } => {
                let from = one_line(from);
                format!(
                    "No answer from {from} for {seconds} s, asked as {}. Check that the sensor is powered, that its two data wires are the right \
                 way round, and its address, line speed and parity{}.",
                    asked.say(face),
                    face.command(": `clinoblade sensor identify` tries the usual ones", "")
                )
            }
            Self::NothingDecodes { from, profile, shown, advice } => {
                let from = one_line(from);
                let profile = one_line(profile);
                format!("Data from {from} does not fit the profile {profile}. It begins {shown}. {}", advice.say(face))
            }
            Self::SensorFault { from, fault } => {
                let from = one_line(from);
                format!("The sensor on {from} sends no samples: {}", fault.say(face))
            }
            Self::Read { from, source } => {
                let from = one_line(from);
                format!("Reading from {from} failed ({source}). Unplug the sensor and plug it in again.")
            }
            Self::SaveRaw { path, source } => {
                let path = path.display().to_string();
                let path = one_line(&path);
                format!(
                    "Cannot save the raw bytes to {path} ({source}). Check that there is room and that you may write there."
                )
            }
            Self::SaveRawExists { path } => {
                let path = path.display().to_string();
                let path = one_line(&path);
                format!("{path} already exists and is not overwritten. Name another file for the raw bytes.")
            }
            Self::NoPort => format!(
                "No sensor found: no serial port is present, and no default is saved. Plug the sensor in{}.",
                face.command(", or name a source with --port, --tcp, --replay or --rig", "")
            ),
            Self::SilentPort { path } => {
                let path = one_line(path);
                format!(
                    "No sensor found: the only serial port, {path}, is built in and nothing comes from it. Plug the sensor in{}.",
                    face.command(", or name the port with --port", "")
                )
            }
            Self::SeveralPorts { found } => {
                let ports: Vec<String> = found.iter().map(|port| format!("  {}", port.say(face))).collect();
                format!(
                    "Several serial ports are present, and no default is saved. Choose one{}:\n{}",
                    face.command(" with --port, and save it with `clinoblade sensor default --port DEVICE`", ""),
                    ports.join("\n")
                )
            }
            Self::Profile(error) => error.say(face),
        }
    }
}

impl Say for ProfileError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Unknown(name) => {
                let name = one_line(name);
                format!(
                    "There is no profile '{name}'. Name one of {}, or a TOML file that describes the sensor.",
                    Profile::BUILT_IN.join(", ")
                )
            }
            Self::Unreadable { path, source } if FileLimit::of(source).is_some() => {
                errors::file(&path.display().to_string(), source)
            }
            Self::Unreadable { path, source } => {
                let path = path.display().to_string();
                let path = one_line(&path);
                format!("Cannot read the profile {path} ({source}). Check its name and your access rights.")
            }
            Self::NotToml { name, reason } => {
                let name = one_line(name);
                format!("The profile {name} cannot be read:\n{}", reason.trim_end())
            }
            Self::Wrong { name, mark: Some(mark), mistake } => {
                let name = one_line(name);
                format!("The profile {name} cannot be used:\n{}\n{}", mark.say(face), mistake.say(face))
            }
            Self::Wrong { name, mark: None, mistake } => {
                let name = one_line(name);
                format!("The profile {name} cannot be used: {}", mistake.say(face))
            }
        }
    }
}

/// The line, and a mark under the place.
impl Say for Mark {
    fn say(&self, _: Face) -> String {
        let Self { line, column, width, text } = self;
        let gutter = " ".repeat(line.to_string().len());
        let (before, under) = (" ".repeat(column.saturating_sub(1)), "^".repeat(*width));
        format!("at line {line}, column {column}\n{gutter} |\n{line} | {text}\n{gutter} | {before}{under}")
    }
}

impl Say for Mistake {
    fn say(&self, _: Face) -> String {
        match self {
            Self::TwoDirections => {
                "The direction is given in two ways. Keep one: x, y and z, or pitch and roll, or tilt.".to_owned()
            }
            Self::AnglesMeaning => "angles tells what pitch and roll mean. Without them leave it out.".to_owned(),
            Self::AxesMissing => "All three of x, y and z are needed.".to_owned(),
            Self::AnglesMissing => "Both pitch and roll are needed. A single angle is tilt.".to_owned(),
            Self::DirectionMissing => "The direction is missing. Add x, y and z, or pitch and roll, or tilt.".to_owned(),
            Self::NotHexadecimal(text) => format!("'{text}' is not hexadecimal. Write bytes such as \"A7 5C\"."),
            Self::FrameLength => format!("A frame has 1 to {LONGEST_FRAME} bytes, sync and checksum included."),
            Self::SyncTooLong => "The sync bytes are longer than the frame.".to_owned(),
            Self::SyncMissing => {
                "The sync bytes are missing. Add sync = \"A7 5C\"; only with cobs = true may they be left out.".to_owned()
            }
            Self::ChecksumOutside { length } => {
                format!("The checksum ends behind the frame of {length} bytes. Bytes count from 0.")
            }
            Self::ChecksumFrom => "The checksum covers the bytes before it: from must be less than at.".to_owned(),
            Self::NoChecksum(name) => format!(
                "There is no checksum '{name}'. Name sum8, xor8, or a CRC of 8 or 16 bits as the catalogue of parametrised CRC algorithms \
                 names it, such as CRC-16/MODBUS, CRC-16/IBM-3740, CRC-16/XMODEM or CRC-8/SMBUS."
            ),
            Self::CountsOfAngles => {
                "Angles are in degrees and have no counts per g. Leave this out; scale turns other numbers into degrees.".to_owned()
            }
            Self::CountsAndUnit => "Give either counts_per_g or unit, not both.".to_owned(),
            Self::UnitMissing => {
                "The unit of the numbers is missing. Write unit = \"g\", \"mg\" or \"m/s²\", or counts_per_g = 16384.".to_owned()
            }
            Self::OtherSection(section) => {
                format!("The section [{section}] does not go with this format. Remove it.")
            }
            Self::SectionMissing(section) => {
                let such_as = match *section {
                    "columns" => " with x = 1, y = 2, z = 3",
                    "labelled" => " with x = \"x\", y = \"y\", z = \"z\"",
                    "xdr" => " with pitch = \"PITCH\" and roll = \"ROLL\"",
                    "frame" => " with sync, length, order and the places of x, y and z",
                    "modbus" => " with address, registers and the places of x, y and z",
                    _ => "",
                };
                format!("The section [{section}] is missing. Add it{such_as}.")
            }
            Self::SlaveAddress => "A slave's address is 1 to 247.".to_owned(),
            Self::RegistersApart => {
                format!("The registers are too far apart: one request can ask for at most {MOST_REGISTERS}.")
            }
            Self::ColumnTooHigh(column) => format!("Column {column} is beyond the {MOST_COLUMNS} columns that are read."),
            Self::NoLabel(label) => {
                format!("'{label}' cannot be a label. Leave out blanks and the signs : = , ;")
            }
            Self::NoTransducer => {
                "A transducer's name has letters and digits, such as \"PITCH\", and no comma, * or $.".to_owned()
            }
            Self::XdrAngles => {
                "The angles are missing. Give both pitch and roll, or tilt alone, such as pitch = \"PITCH\".".to_owned()
            }
            Self::Twice { kind, name } => {
                let kind = match kind {
                    Holder::Column => "column",
                    Holder::Label => "label",
                    Holder::Name => "name",
                };
                format!("The {kind} {name} is named twice. Each one holds one thing.")
            }
            Self::TimeUnitMissing => "The unit of time is missing. Add time_unit = \"us\", \"ms\" or \"s\".".to_owned(),
            Self::TimeMissing => "time_unit is given without time. Add time, or leave time_unit out.".to_owned(),
            Self::NotUnsigned(key) => {
                format!("The {key} must be a plain unsigned number, such as type = \"u16\".")
            }
            Self::Scale => "scale must not be 0, and scale and offset must be finite numbers.".to_owned(),
            Self::Outside { key, length } => {
                format!("{key} ends behind the frame of {length} bytes. Bytes count from 0.")
            }
            Self::HalfRegister => "A register holds 16 bits. Name a type of 16, 32 or 64 bits.".to_owned(),
            Self::CountsPerG => "Counts per g must be above zero, such as 16384.".to_owned(),
            Self::FullScale => {
                "full_scale must be above zero: the largest number the sensor can send, such as 32767.".to_owned()
            }
            Self::Baud => "The line speed must be above zero, such as 115200.".to_owned(),
            Self::Rate => "rate_hz must be above zero and at most 10000.".to_owned(),
        }
    }
}

impl Say for Limit {
    fn say(&self, _: Face) -> String {
        match self {
            Self::AlwaysOneG => {
                "It sends angles, no force: gravity always reads 1 g, so shaking, a wrong scale and an offset do not show, and a tumble \
                 cannot calibrate it."
            }
            Self::Filtered => "The sensor filters its angles itself: wait longer after every move than with a bare accelerometer.",
            Self::UpIsTaken => {
                "Two inclinations do not tell which side is up: +z is taken. Keep its face within 90° of level, and within 60° for a good \
                 angle."
            }
            Self::RollIsLost => "Near a pitch of 90° its roll loses its meaning: keep x within 75° of level.",
            Self::BlindAcross => "One angle shows nothing across: the slope of the span is not seen and is taken as level.",
        }
        .to_owned()
    }
}

/// Stands within a sentence.
impl Say for FrameChecksum {
    fn say(&self, _: Face) -> String {
        let order = match (self.sum.width(), self.big_endian) {
            (1, _) => "",
            (_, true) => ", most significant byte first",
            (_, false) => ", least significant byte first",
        };
        format!("{} from byte {}{order}", self.sum.name(), self.from)
    }
}

impl Say for Doubt {
    fn say(&self, face: Face) -> String {
        match self {
            Self::NoChecksum => {
                "No known checksum fits: where a frame begins is a guess, and a damaged number passes for a good one.".to_owned()
            }
            Self::Checksums { taken, others } => {
                let others: Vec<String> = others.iter().map(|other| other.say(face)).collect();
                format!("The checksum is taken to be {}. This fits as well: {}.", taken.say(face), others.join("; "))
            }
            Self::ClockWidth { at, bits } => format!(
                "The clock at byte {at} is taken to have {bits} bits. Its upper bytes did not move, so it may have fewer."
            ),
            Self::AxesStill => {
                "The axes did not move by a single count, so their width is a guess. Listen again with the sensor in your hand.".to_owned()
            }
            Self::Unnamed(bytes) => {
                let bytes: Vec<String> = bytes.iter().map(ToString::to_string).collect();
                format!("What is at byte {} is unknown and left out.", bytes.join(", "))
            }
        }
    }
}

/// An example of a profile written by hand.
const BY_HAND: &str = "examples/profiles/club-frame.toml";

impl Say for ProposeError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::NoAxes => {
                "Fewer than three numbers are left for x, y and z. Name them, such as --xyz 2,3,4.".to_owned()
            }
            Self::NoPlace { name, places } => {
                format!("There is no '{name}' in a line: it has {}.", places.join(", "))
            }
            Self::Twice(name) => format!("'{name}' cannot be two things at once."),
            Self::Temperature => {
                "In binary frames a temperature cannot be told from its bytes. Write it into the profile by hand."
                    .to_owned()
            }
            Self::Neither => format!(
                "These are neither lines of numbers nor binary frames of one length. Listen at another --baud, or describe the sensor by \
                 hand, as in {BY_HAND}."
            ),
            Self::NoCounter(at) => format!("The number at byte {at} does not count the frames one by one."),
            Self::NoClock(at) => format!("The number at byte {at} does not go up as a clock does."),
            Self::NoByte { name, length } => {
                format!("There is no byte '{name}' in a frame: its {length} bytes count from 0.")
            }
            Self::NoForce { length, sync, checksum } => {
                let begin = sync
                    .as_ref()
                    .map_or_else(|| "parted by COBS".to_owned(), |sync| format!("beginning with {sync:02X?}"));
                let sum = checksum.map_or_else(|| "no known checksum".to_owned(), |checksum| checksum.say(face));
                format!(
                    "These are binary frames of {length} bytes, {begin}, with {sum}, but no three numbers in them are a force. If the sensor \
                     sends angles, describe it by hand, as in {BY_HAND}, with pitch and roll in place of x, y and z."
                )
            }
        }
    }
}

#[cfg(test)]
#[path = "stream_tests.rs"]
mod tests;
