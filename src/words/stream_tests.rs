//! What is said of a stream, all of it.

use super::*;
use clinoblade_stream::codec::Checksum;
use clinoblade_stream::ports::UsbIdentity;
use std::io::{Error, ErrorKind};

fn lines<T: Say>(face: Face, all: &[T]) -> String {
    all.iter().map(|one| one.say(face)).collect::<Vec<_>>().join("\n")
}

fn port(path: &str, obstacle: Option<Obstacle>) -> PortReport {
    let usb = UsbIdentity {
        vendor_id: 1,
        product_id: 2,
        product: Some("club board".to_owned()),
        serial_number: Some("C7".to_owned()),
    };
    PortReport { path: path.to_owned(), usb: Some(usb), obstacle }
}

fn errors() -> Vec<StreamError> {
    let (path, from) = ("/dev/ttyUSB0".to_owned(), "/dev/ttyUSB0".to_owned());
    let barred = |obstacle| StreamError::Port { path: path.clone(), obstacle };
    let undecoded = |advice| StreamError::NothingDecodes {
        from: from.clone(),
        profile: "sentence".to_owned(),
        shown: "\"x:0.01\"".to_owned(),
        advice,
    };
    let refused = |code| undecoded(Advice::Refused(Refusal { address: 1, code, first: 7, count: 3 }));
    let asked = Asked { address: 1, baud: 19_200, parity: Parity::Even };
    let io = || Error::from(ErrorKind::PermissionDenied);
    vec![
        barred(Obstacle::InUse { by: Some("logger (process 42)".to_owned()) }),
        barred(Obstacle::InUse { by: None }),
        barred(Obstacle::NotPermitted { group: Some("dialout".to_owned()) }),
        barred(Obstacle::NotPermitted { group: None }),
        barred(Obstacle::Gone),
        barred(Obstacle::NotSerial),
        barred(Obstacle::Another),
        StreamError::PortRefused { path: path.clone(), baud: 115_200, reason: "broken".to_owned() },
        StreamError::Connect { address: "localhost:7000".to_owned(), source: ErrorKind::ConnectionRefused.into() },
        StreamError::Log { path: "blade.log".into(), source: io() },
        StreamError::EmptyLog { from: "blade.log".to_owned() },
        StreamError::NoTime { profile: "columns".to_owned() },
        StreamError::Unplugged { from: from.clone() },
        StreamError::Disconnected { from: "localhost:7000".to_owned() },
        StreamError::Silent { from: from.clone(), seconds: 3 },
        StreamError::StandsStill { from: from.clone(), seconds: 3 },
        StreamError::NoAnswer { from: from.clone(), asked, seconds: 3 },
        undecoded(Advice::OtherProfiles(vec!["labelled", "columns"])),
        undecoded(Advice::Text),
        undecoded(Advice::Baud { tried: 115_200, others: vec![9600, 57_600] }),
        undecoded(Advice::NoText),
        refused(1),
        refused(2),
        refused(3),
        refused(4),
        refused(9),
        StreamError::Read { from: from.clone(), source: io() },
        StreamError::SaveRaw { path: "raw.log".into(), source: ErrorKind::StorageFull.into() },
        StreamError::SaveRawExists { path: "raw.log".into() },
        StreamError::NoPort,
        StreamError::SilentPort { path: "/dev/ttyS0".to_owned() },
        StreamError::SeveralPorts {
            found: vec![
                port("/dev/ttyUSB0", None),
                port("/dev/ttyUSB1", Some(Obstacle::NotPermitted { group: Some("dialout".to_owned()) })),
            ],
        },
    ]
}

#[test]
fn whatever_stops_a_stream_says_what_to_do() {
    let errors = errors();
    insta::assert_snapshot!(lines(Face::Terminal, &errors));
    let differ: Vec<String> = errors
        .iter()
        .filter(|error| error.say(Face::Page) != error.say(Face::Terminal))
        .map(|error| error.say(Face::Page))
        .collect();
    insta::assert_snapshot!(differ.join("\n"));
    assert!(errors.iter().all(|error| !error.say(Face::Page).contains("--")), "no options where none can be typed");
}

#[test]
fn every_fault_of_a_sensor_says_what_to_do() {
    let faults = [
        SensorFault::ClockHeld,
        SensorFault::DataHeld,
        SensorFault::NoAnswer,
        SensorFault::Refused,
        SensorFault::WrongChip,
        SensorFault::NoNewData,
        SensorFault::Watchdog,
        SensorFault::Other,
    ];
    let from = || "/dev/ttyUSB0".to_owned();
    insta::assert_snapshot!(lines(
        Face::Terminal,
        &faults.map(|fault| StreamError::SensorFault { from: from(), fault })
    ));
}

#[test]
fn every_mistake_in_a_profile_says_what_to_write() {
    let mistakes = [
        Mistake::TwoDirections,
        Mistake::AnglesMeaning,
        Mistake::AxesMissing,
        Mistake::AnglesMissing,
        Mistake::DirectionMissing,
        Mistake::NotHexadecimal("AX".to_owned()),
        Mistake::FrameLength,
        Mistake::SyncTooLong,
        Mistake::SyncMissing,
        Mistake::ChecksumOutside { length: 10 },
        Mistake::ChecksumFrom,
        Mistake::NoChecksum("CRC-32".to_owned()),
        Mistake::CountsOfAngles,
        Mistake::CountsAndUnit,
        Mistake::UnitMissing,
        Mistake::OtherSection("columns"),
        Mistake::SectionMissing("columns"),
        Mistake::SectionMissing("labelled"),
        Mistake::SectionMissing("xdr"),
        Mistake::SectionMissing("frame"),
        Mistake::SectionMissing("modbus"),
        Mistake::SlaveAddress,
        Mistake::RegistersApart,
        Mistake::ColumnTooHigh(40),
        Mistake::NoLabel("a:".to_owned()),
        Mistake::NoTransducer,
        Mistake::XdrAngles,
        Mistake::Twice { kind: Holder::Column, name: "2".to_owned() },
        Mistake::Twice { kind: Holder::Label, name: "x".to_owned() },
        Mistake::Twice { kind: Holder::Name, name: "PITCH".to_owned() },
        Mistake::TimeUnitMissing,
        Mistake::TimeMissing,
        Mistake::NotUnsigned("counter"),
        Mistake::Scale,
        Mistake::Outside { key: "z".to_owned(), length: 10 },
        Mistake::HalfRegister,
        Mistake::CountsPerG,
        Mistake::FullScale,
        Mistake::Baud,
        Mistake::Rate,
    ];
    insta::assert_snapshot!(lines(Face::Terminal, &mistakes));
    let mark = Mark { line: 12, column: 5, width: 3, text: "z = 'a:'".to_owned() };
    let name = || "club.toml".to_owned();
    let all = [
        ProfileError::Unknown("sentense".to_owned()),
        ProfileError::Unreadable { path: "club.toml".into(), source: ErrorKind::PermissionDenied.into() },
        ProfileError::NotToml { name: name(), reason: "unknown field `buad`\n".to_owned() },
        ProfileError::Wrong { name: name(), mark: Some(mark), mistake: Mistake::NoLabel("a:".to_owned()) },
        ProfileError::Wrong { name: name(), mark: None, mistake: Mistake::Baud },
    ];
    insta::assert_snapshot!(lines(Face::Terminal, &all));
}

#[test]
fn what_a_sensor_cannot_show_and_what_its_bytes_leave_open() {
    let limits = [Limit::AlwaysOneG, Limit::Filtered, Limit::UpIsTaken, Limit::RollIsLost, Limit::BlindAcross];
    let sum = |big_endian| FrameChecksum { sum: Checksum::MODBUS, at: 16, from: 2, big_endian };
    let one_byte = FrameChecksum { sum: "sum8".parse().unwrap(), at: 7, from: 0, big_endian: false };
    let doubts = [
        Doubt::NoChecksum,
        Doubt::Checksums { taken: sum(false), others: vec![sum(true), one_byte] },
        Doubt::ClockWidth { at: 4, bits: 32 },
        Doubt::AxesStill,
        Doubt::Unnamed(vec![14, 15]),
    ];
    let at = || "12".to_owned();
    let refusals = [
        ProposeError::NoAxes,
        ProposeError::NoPlace { name: "a".to_owned(), places: vec!["acc_x".to_owned(), "acc_y".to_owned()] },
        ProposeError::Twice("acc_x".to_owned()),
        ProposeError::Temperature,
        ProposeError::Neither,
        ProposeError::NoCounter(at()),
        ProposeError::NoClock(at()),
        ProposeError::NoByte { name: "88".to_owned(), length: 18 },
        ProposeError::NoForce { length: 8, sync: Some(vec![0xa7, 0x5c]), checksum: Some(sum(true)) },
        ProposeError::NoForce { length: 8, sync: None, checksum: None },
    ];
    let all = [lines(Face::Terminal, &limits), lines(Face::Terminal, &doubts), lines(Face::Terminal, &refusals)];
    insta::assert_snapshot!(all.join("\n\n"));
}
