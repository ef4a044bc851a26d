use super::*;
use std::io;
use std::path::PathBuf;
use std::sync::Arc;

/// What is said at a terminal, and below it what is said elsewhere, where that is another.
fn said(things: &[&dyn Say]) -> String {
    let both = things.iter().map(|thing| match (thing.say(Face::Terminal), thing.say(Face::Page)) {
        (terminal, page) if terminal == page => terminal,
        (terminal, page) => format!("{terminal}\n  page: {page}"),
    });
    both.collect::<Vec<_>>().join("\n")
}

fn not_json() -> serde_json::Error {
    serde_json::from_str::<u8>("x").unwrap_err()
}

#[test]
fn errors_of_a_logbook() {
    let (path, server) = (|| PathBuf::from("/bench/club.sqlite"), || "postgres://workshop:5432/book".to_owned());
    let (file, shared) = (|| Site::File(path()), || Site::Server(server()));
    let capture = "0198c0de-0000-7000-8000-000000000000".parse().unwrap();
    let timed_out = || sqlx::Error::PoolTimedOut;
    let untrusted = |why| LogbookError::ServerNotTrusted { server: server(), why, source: timed_out() };
    let differs = |difference| LogbookError::Different { setup: 4, id: capture, difference };
    let altered = [Part::Setup(3), Part::Listed(3), Part::Entry { setup: 3, number: 2 }, Part::Samples(capture)];
    let damages = [
        Damage::LogAlone,
        Damage::CutShort,
        Damage::OtherTables(2),
        Damage::NoCount,
        Damage::Number(-3),
        Damage::Time(i64::MAX),
        Damage::Altered,
        Damage::Layout(9),
        Damage::Text("expected value".to_owned()),
        Damage::Samples(SamplesError::Marks(7)),
        Damage::Database("row 3 missing from index".to_owned()),
    ];
    let mut all = vec![
        LogbookError::NoHome,
        LogbookError::NoName,
        LogbookError::Unwritable { what: "setup", letter: '\u{1B}' },
        LogbookError::Scheme("http".to_owned()),
        LogbookError::NotAUrl,
        LogbookError::NotABackup(path()),
        LogbookError::KeptByServer(server()),
        LogbookError::TooLong("setup"),
        LogbookError::BadUrl(BadUrl::Other("invalid port number".to_owned())),
        LogbookError::BadUrl(BadUrl::Password),
        LogbookError::ServerNotEncrypted { server: server(), source: timed_out() },
        LogbookError::ServerOutOfReach { server: server(), source: timed_out() },
        untrusted(Distrust::OtherName),
        untrusted(Distrust::UnknownSigner),
        untrusted(Distrust::SelfSigned),
        untrusted(Distrust::Expired),
        untrusted(Distrust::NotYetValid),
        untrusted(Distrust::Revoked),
        untrusted(Distrust::Unusable),
        LogbookError::ServerRefuses { server: server(), source: timed_out() },
        LogbookError::Newer { site: file(), found: 9, known: 3 },
        LogbookError::Newer { site: shared(), found: 9, known: 3 },
        LogbookError::Damaged { site: shared(), damage: Damage::NoCount },
        LogbookError::Busy(file()),
        LogbookError::Busy(shared()),
        LogbookError::Failed { site: file(), source: timed_out() },
        LogbookError::NoFolder(PathBuf::from("/attic")),
        LogbookError::IsFolder(PathBuf::from("/bench")),
        LogbookError::NotUnicode(path()),
        LogbookError::NotWritable(path()),
        LogbookError::NotALogbook(path()),
        LogbookError::Full(path()),
        LogbookError::Gone(path()),
        LogbookError::Unreachable { path: path(), source: io::ErrorKind::Other.into() },
        LogbookError::SharedNotBuilt,
        LogbookError::NoSetup(9),
        LogbookError::NoOpenSetup,
        LogbookError::Closed(4),
        LogbookError::ClosedElsewhere { setup: 4, waiting: 1 },
        LogbookError::StillWaits { setup: 4, waiting: 2 },
        LogbookError::NoSamples(capture),
        LogbookError::AlreadyRecorded { entry: capture, setup: 4 },
        differs(Difference::Setup),
        differs(Difference::Entry(2)),
        differs(Difference::Samples(2)),
        differs(Difference::Length { here: 14, there: 13 }),
        LogbookError::NotRecordable { what: "capture", source: not_json() },
        LogbookError::NotUnderstood { part: Part::Setup(3), source: not_json() },
    ];
    all.extend(altered.map(LogbookError::Altered));
    all.extend(damages.map(|damage| LogbookError::Damaged { site: file(), damage }));
    for source in [SamplesError::Version(2), SamplesError::Marks(7), SamplesError::Short(3), SamplesError::Long(1)] {
        all.push(LogbookError::Samples { entry: capture, source });
    }
    insta::assert_snapshot!(said(&all.iter().map(|error| error as &dyn Say).collect::<Vec<_>>()));
}

#[test]
fn what_waits_for_a_shared_logbook() {
    let refused = vec![Refused::Damaged("/w/1.entry".into()), Refused::NotTaken(Arc::new(LogbookError::Closed(4)))];
    let arrived = |arrived| Delivery { arrived, waiting: 0, refused: Vec::new() };
    let stuck = Delivery { arrived: 0, waiting: 2, refused };
    let said = said(&[&arrived(1), &arrived(3), &stuck]);
    assert_eq!((waits(0), arrived(0).say(Face::Terminal)), (None, String::new()));
    insta::assert_snapshot!([said, waits(1).unwrap(), waits(3).unwrap()].join("\n"));
}

#[test]
fn what_is_wrong_with_a_document() {
    let field = |what| DocumentError::Field { path: "entries[2].entry.at".to_owned(), what };
    let kind = |wanted| field(Complaint::OtherKind { found: "string \"eight\"".to_owned(), wanted });
    let all = [
        DocumentError::Damaged { line: 3, column: 9, ends: true },
        DocumentError::Damaged { line: 3, column: 9, ends: false },
        DocumentError::TooLarge,
        DocumentError::Foreign,
        DocumentError::Newer(7),
        field(Complaint::TooLong),
        field(Complaint::Angle(1e6)),
        field(Complaint::Missing),
        field(Complaint::NoSuchField),
        field(Complaint::NoSuchWord { found: "perhaps".to_owned(), known: &["on", "off"] }),
        kind(Wanted::Number),
        kind(Wanted::Whole),
        kind(Wanted::Text),
        kind(Wanted::Bool),
        kind(Wanted::List),
        kind(Wanted::Object),
        kind(Wanted::Other("a blade".to_owned())),
        field(Complaint::Refused("no angle: up".to_owned())),
        field(Complaint::Letter('\u{1B}')),
        field(Complaint::Version),
        field(Complaint::SameId(1)),
        field(Complaint::OtherId),
        field(Complaint::NoSuchCapture),
        field(Complaint::NotSteady),
        field(Complaint::Time(jiff::Timestamp::UNIX_EPOCH)),
        field(Complaint::NoSuchBlade("E".parse().unwrap())),
        field(Complaint::Stick(clinoblade_units::Percent::new(500.0))),
        field(Complaint::NoSamples),
        field(Complaint::NotBase64),
        field(Complaint::Samples(SamplesError::Short(3))),
        field(Complaint::Checksum),
    ];
    insta::assert_snapshot!(said(&all.iter().map(|error| error as &dyn Say).collect::<Vec<_>>()));
}
