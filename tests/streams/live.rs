//! Streams on real lines: pseudo-terminals, TCP and logs; unplugged, silent, mistuned and saved. Where time matters, the line is
//! one in memory and the time is handed in.
#![cfg(unix)]

use clinoblade::stream::codec::{Frame, SentenceEncoder};
use clinoblade::stream::ports::{self, Obstacle};
use clinoblade::stream::{
    Advice, Event, Options, Origin, Pace, Profile, Reconnecting, SampleStream, SensorFault, Source, StreamError,
};
use std::io::{ErrorKind, Read, Write};
use std::path::Path;
use std::time::Duration;
use support::bench::LONG;
use support::port::pseudo_terminal;
use tokio::io::{AsyncWriteExt, DuplexStream};
use tokio::time::Instant;

fn frame(seq: u16) -> Frame {
    Frame { seq, micros: 7_000_000 + 5000 * u32::from(seq), counts: [f64::from(seq), -2.0, 16_384.0], celsius: None }
}

fn sentences(range: std::ops::Range<u16>) -> Vec<u8> {
    let mut bytes = Vec::new();
    range.for_each(|seq| SentenceEncoder.encode(&frame(seq), &mut bytes));
    bytes
}

fn port(path: &str) -> Source {
    Source::Port(path.to_owned())
}

async fn open(path: &str) -> SampleStream {
    SampleStream::open(&port(path), &Profile::sentence(), &Options::default()).await.unwrap()
}

/// A serial line in memory: what its other end writes is there at once.
fn in_memory(profile: &Profile, options: &Options) -> (DuplexStream, SampleStream) {
    let (line, reader) = tokio::io::duplex(4096);
    (line, SampleStream::from_reader(Origin::Port("line".to_owned()), reader, profile, options).unwrap())
}

async fn next_count(stream: &mut SampleStream) -> f64 {
    stream.next().await.unwrap().unwrap().counts[0]
}

/// The error that ends a stream.
async fn end(stream: &mut SampleStream) -> StreamError {
    loop {
        match stream.next().await {
            Ok(Some(_)) => {}
            Ok(None) => panic!("a live source has no end, only errors"),
            Err(error) => return error,
        }
    }
}

#[tokio::test]
async fn a_serial_line_brings_samples_at_any_baud() {
    for baud in [9600, 115_200, 460_800, 1_000_000, 123_457] {
        let (mut master, path) = pseudo_terminal();
        let overrides = clinoblade::stream::Overrides { baud: Some(baud), ..Default::default() };
        let profile = Profile::sentence().with(overrides).unwrap();
        let mut stream = SampleStream::open(&port(&path), &profile, &Options::default()).await.unwrap();
        master.write_all(&sentences(0..30)).unwrap();
        for seq in 0..30 {
            let sample = stream.next().await.unwrap().unwrap();
            assert_eq!((sample.counts[0], sample.clock.value()), (f64::from(seq), f64::from(seq) * 0.005));
        }
        assert_eq!(stream.counters().good, 30);
    }
}

#[tokio::test]
async fn a_byte_may_be_any_byte_on_the_way() {
    // Interrupt, end of file, flow control: a line that is not raw would act on them instead of passing them on.
    let (mut master, path) = pseudo_terminal();
    let mut stream = open(&path).await;
    let mut bytes = sentences(0..1);
    bytes.extend([3, 4, 17, 19, 26, 28, 127, 0, 255, b'\n']);
    bytes.extend(sentences(1..2));
    master.write_all(&bytes).unwrap();
    assert_eq!((next_count(&mut stream).await, next_count(&mut stream).await), (0.0, 1.0));
    assert_eq!((stream.counters().damaged(), stream.counters().bytes), (1, bytes.len() as u64));
}

#[tokio::test]
async fn what_had_gathered_before_the_port_was_opened_is_old_news() {
    let (mut master, path) = pseudo_terminal();
    let first = open(&path).await;
    master.write_all(&sentences(0..5)).unwrap();
    tokio::time::sleep(Duration::from_millis(20)).await;
    drop(first);
    let mut stream = open(&path).await;
    master.write_all(&sentences(100..101)).unwrap();
    assert_eq!(next_count(&mut stream).await, 100.0);
}

#[tokio::test]
async fn an_unplugged_cable_is_an_error_at_once_and_stays_one() {
    let (mut master, path) = pseudo_terminal();
    let mut stream = open(&path).await;
    master.write_all(&sentences(0..3)).unwrap();
    for _ in 0..3 {
        stream.next().await.unwrap();
    }
    drop(master);
    // Had it not been noticed at once, it would be silence.
    let error = end(&mut stream).await;
    assert!(matches!(&error, StreamError::Unplugged { from } if *from == path), "{error}");
    for _ in 0..3 {
        assert!(matches!(stream.next().await, Err(StreamError::Unplugged { .. })));
    }
}

#[tokio::test]
async fn a_pair_of_lines_in_one_process_does_as_well() {
    let (mut master, slave) = tokio_serial::SerialStream::pair().unwrap();
    let origin = Origin::Live("the pair".to_owned());
    let mut stream = SampleStream::from_reader(origin, slave, &Profile::sentence(), &Options::default()).unwrap();
    AsyncWriteExt::write_all(&mut master, &sentences(0..20)).await.unwrap();
    for seq in 0..20 {
        assert_eq!(next_count(&mut stream).await, f64::from(seq));
    }
    drop(master);
    assert!(matches!(end(&mut stream).await, StreamError::Disconnected { .. }));
}

#[tokio::test]
async fn tcp_brings_samples_and_its_end_is_an_error() {
    let server = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = server.local_addr().unwrap().to_string();
    let source = Source::Tcp(address.clone());
    let (profile, options) = (Profile::sentence(), Options::default());
    let (opened, accepted) = tokio::join!(SampleStream::open(&source, &profile, &options), server.accept());
    let (mut stream, mut sender) = (opened.unwrap(), accepted.unwrap().0);
    sender.write_all(&sentences(0..2)).await.unwrap();
    assert_eq!((next_count(&mut stream).await, next_count(&mut stream).await), (0.0, 1.0));
    drop(sender);
    let error = end(&mut stream).await;
    assert!(matches!(error, StreamError::Disconnected { .. }), "{error}");
    drop(server);
    let error = SampleStream::open(&source, &profile, &options).await.unwrap_err();
    assert!(matches!(&error, StreamError::Connect { address: to, .. } if *to == address), "{error}");
}

/// Feeds a line at a sensor's pace until the stream ends, and says how it ended and when.
async fn fed_until_the_end(profile: &Profile, mut bytes: impl FnMut(u32) -> Vec<u8>) -> (StreamError, Duration) {
    let (mut line, mut stream) = in_memory(profile, &Options::default());
    let since = Instant::now();
    let feeding = async {
        for n in 0.. {
            line.write_all(&bytes(n)).await.unwrap();
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    };
    tokio::select! {
        error = end(&mut stream) => (error, since.elapsed()),
        () = feeding => unreachable!(),
    }
}

/// The profile that does not fit, the first bytes, and what they suggest.
fn undecoded(error: StreamError) -> (String, String, Advice) {
    match error {
        StreamError::NothingDecodes { profile, shown, advice, .. } => (profile, shown, advice),
        other => panic!("{other}"),
    }
}

#[tokio::test(start_paused = true)]
async fn a_wrong_profile_is_recognised_within_two_seconds_and_the_right_one_named() {
    let (error, after) = fed_until_the_end(&Profile::sentence(), |_| b"x:0.01 y:-0.02 z:0.99\r\n".to_vec()).await;
    assert!(after < Duration::from_secs(2), "{after:?}");
    let (profile, shown, advice) = undecoded(error);
    assert!(profile == "sentence" && shown.starts_with("\"x:0.01 y:-0.02"), "{profile}, {shown}");
    assert_eq!(advice, Advice::OtherProfiles(vec!["labelled"]));

    let (error, after) = fed_until_the_end(&Profile::labelled(), |n| sentences(n as u16..n as u16 + 4)).await;
    assert!(after < Duration::from_secs(2), "{after:?}");
    assert_eq!(undecoded(error).2, Advice::OtherProfiles(vec!["sentence"]));
}

#[tokio::test(start_paused = true)]
async fn a_wrong_baud_is_recognised_within_two_seconds_and_others_named() {
    // What a slower receiver makes of it: bits that are not where they should be.
    let garbled = |n: u32| -> Vec<u8> {
        (0..80).map(|k| ((n * 80 + k).wrapping_mul(2_654_435_761) >> 24) as u8 | 0x80).collect()
    };
    let (error, after) = fed_until_the_end(&Profile::sentence(), garbled).await;
    assert!(after < Duration::from_secs(2), "{after:?}");
    let (_, shown, advice) = undecoded(error);
    assert!(shown.ends_with("(hexadecimal)"), "{shown}");
    let Advice::Baud { tried: 115_200, others } = advice else { panic!("{advice:?}") };
    assert!(others.contains(&9600) && others.contains(&230_400) && !others.contains(&115_200), "{others:?}");
}

#[tokio::test(start_paused = true)]
async fn silence_is_an_error_from_the_start_and_in_the_middle() {
    let options = Options { silence: Duration::from_secs(1), ..Options::default() };
    let (mut line, mut stream) = in_memory(&Profile::sentence(), &options);
    let since = Instant::now();
    let (error, after) = (end(&mut stream).await, since.elapsed());
    assert!(matches!(&error, StreamError::Silent { from, seconds: 1 } if from == "line"), "{error}");
    assert!((Duration::from_millis(1000)..Duration::from_millis(1110)).contains(&after), "{after:?}");

    line.write_all(&sentences(0..3)).await.unwrap();
    let since = Instant::now();
    let (error, after) = (end(&mut stream).await, since.elapsed());
    assert!(matches!(error, StreamError::Silent { .. }), "{error}");
    assert!((Duration::from_millis(1000)..Duration::from_millis(1110)).contains(&after), "{after:?}");
    assert_eq!(stream.counters().good, 3);
}

#[tokio::test(start_paused = true)]
async fn a_busy_program_does_not_take_its_own_absence_for_silence() {
    let options = Options { silence: Duration::from_millis(200), ..Options::default() };
    let (mut line, mut stream) = in_memory(&Profile::sentence(), &options);
    for seq in 0..4 {
        tokio::time::advance(Duration::from_millis(300)).await;
        line.write_all(&sentences(seq..seq + 1)).await.unwrap();
        assert_eq!(next_count(&mut stream).await, f64::from(seq));
    }
}

#[tokio::test]
async fn waiting_for_a_sample_may_be_given_up_and_taken_up_again() {
    let (mut master, path) = pseudo_terminal();
    let mut stream = open(&path).await;
    let bytes = sentences(0..50);
    for part in bytes.chunks(7) {
        master.write_all(part).unwrap();
        while let Ok(sample) = tokio::time::timeout(Duration::from_millis(1), stream.next()).await {
            sample.unwrap();
        }
    }
    assert_eq!((stream.counters().good, stream.counters().lost, stream.counters().damaged()), (50, 0, 0));
}

#[tokio::test]
async fn the_raw_log_holds_exactly_the_bytes_received_and_replays_to_the_same_samples() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("flight.log");
    let (mut master, path) = pseudo_terminal();
    let options = Options { save_raw: Some(log.clone()), ..Options::default() };
    let mut stream = SampleStream::open(&port(&path), &Profile::sentence(), &options).await.unwrap();
    let mut bytes = sentences(0..40);
    bytes.extend(b"\x00\xff rubbish $PCLIN,3");
    bytes.extend(sentences(41..60));
    bytes.extend(b"$PCLIN,60,12");
    master.write_all(&bytes).unwrap();
    let mut live = Vec::new();
    while live.len() < 59 {
        live.push(stream.next().await.unwrap().unwrap());
    }
    while stream.counters().bytes < bytes.len() as u64 {
        let more = tokio::time::timeout(Duration::from_millis(5), stream.next()).await;
        assert!(more.is_err(), "what is left makes no sample: {more:?}");
    }
    drop(master);
    assert!(matches!(end(&mut stream).await, StreamError::Unplugged { .. }));
    assert_eq!(std::fs::read(&log).unwrap(), bytes);

    let replay = Source::Replay(log.clone());
    let mut again = SampleStream::open(&replay, &Profile::sentence(), &Options::default()).await.unwrap();
    let mut replayed = Vec::new();
    while let Some(sample) = again.next().await.unwrap() {
        replayed.push(sample);
    }
    assert_eq!(replayed, live);
    assert_eq!(again.counters(), stream.counters());
    assert!(again.next().await.unwrap().is_none(), "the end stays the end");

    let error = SampleStream::open(&replay, &Profile::sentence(), &options).await.unwrap_err();
    assert!(matches!(error, StreamError::SaveRawExists { .. }), "{error}");
    assert_eq!(std::fs::read(&log).unwrap(), bytes, "an earlier log is never overwritten");
}

#[tokio::test]
async fn a_raw_log_that_cannot_be_written_is_a_clear_error() {
    let (mut master, path) = pseudo_terminal();
    let options = Options { save_raw: Some("/dev/full".into()), ..Options::default() };
    let mut stream = SampleStream::open(&port(&path), &Profile::sentence(), &options).await.unwrap();
    let feeding = async {
        for seq in 0.. {
            master.write_all(&sentences(seq..seq + 20)).unwrap();
            tokio::time::sleep(Duration::from_millis(5)).await;
        }
    };
    let error = tokio::select! {
        error = end(&mut stream) => error,
        () = feeding => unreachable!(),
    };
    assert!(
        matches!(&error, StreamError::SaveRaw { source, .. } if source.kind() == ErrorKind::StorageFull),
        "{error}"
    );
    drop(stream);

    let options = Options { save_raw: Some("/no/such/folder/x.log".into()), ..Options::default() };
    let error = SampleStream::open(&port(&path), &Profile::sentence(), &options).await.unwrap_err();
    assert!(matches!(error, StreamError::SaveRaw { .. }), "{error}");
}

fn written_log(folder: &Path, bytes: &[u8]) -> Source {
    let path = folder.join("stream.log");
    std::fs::write(&path, bytes).unwrap();
    Source::Replay(path)
}

async fn replay_time(source: &Source, pace: Pace) -> Duration {
    let options = Options { pace, ..Options::default() };
    let mut stream = SampleStream::open(source, &Profile::sentence(), &options).await.unwrap();
    let since = Instant::now();
    let mut count = 0;
    while stream.next().await.unwrap().is_some() {
        count += 1;
    }
    assert_eq!(count, 101);
    since.elapsed()
}

#[tokio::test(start_paused = true)]
async fn a_replay_goes_as_fast_as_asked_or_as_recorded() {
    let folder = tempfile::tempdir().unwrap();
    let source = written_log(folder.path(), &sentences(0..101));
    let fast = replay_time(&source, Pace::AsAsked).await;
    assert_eq!(fast, Duration::ZERO);
    let paced = replay_time(&source, Pace::AsRecorded).await;
    assert!((Duration::from_millis(500)..Duration::from_millis(502)).contains(&paced), "{paced:?}");
}

#[tokio::test]
async fn a_log_of_something_else_is_told_at_its_end_or_soon() {
    let folder = tempfile::tempdir().unwrap();
    for count in [3, 100_000] {
        let source = written_log(folder.path(), &b"x:0.01 y:-0.02 z:0.99\r\n".repeat(count));
        let mut stream = SampleStream::open(&source, &Profile::sentence(), &Options::default()).await.unwrap();
        let error = stream.next().await.unwrap_err();
        assert_eq!(undecoded(error).2, Advice::OtherProfiles(vec!["labelled"]));
        assert!(stream.counters().bytes <= 200_000, "not all of a long log is read first");
    }
    let source = written_log(folder.path(), &b"$PCLIF,302,1510005,clock-held*3D\r\n".repeat(3));
    let mut stream = SampleStream::open(&source, &Profile::sentence(), &Options::default()).await.unwrap();
    let error = stream.next().await.unwrap_err();
    assert!(matches!(error, StreamError::SensorFault { fault: SensorFault::ClockHeld, .. }), "{error}");
    assert!(error.may_come_back() && !error.is_wrong_use());

    let source = written_log(folder.path(), b"");
    let mut stream = SampleStream::open(&source, &Profile::sentence(), &Options::default()).await.unwrap();
    assert!(matches!(stream.next().await, Err(StreamError::EmptyLog { .. })));

    let missing = Source::Replay(folder.path().join("nowhere.log"));
    let error = SampleStream::open(&missing, &Profile::sentence(), &Options::default()).await.unwrap_err();
    assert!(matches!(&error, StreamError::Log { path, .. } if path.ends_with("nowhere.log")), "{error}");
}

#[tokio::test]
async fn a_log_without_any_time_needs_a_rate() {
    let folder = tempfile::tempdir().unwrap();
    let source = written_log(folder.path(), b"0,0,1\n0,0,1\n");
    let toml = "format = 'columns'\nunit = 'g'\n[columns]\nx = 1\ny = 2\nz = 3\n";
    let profile = Profile::from_toml(toml, "bare").unwrap();
    let error = SampleStream::open(&source, &profile, &Options::default()).await.unwrap_err();
    assert!(matches!(&error, StreamError::NoTime { profile } if profile == "bare"), "{error}");
}

#[tokio::test]
async fn a_port_that_cannot_be_opened_says_why() {
    let barred = |source: Source| async move {
        match SampleStream::open(&source, &Profile::sentence(), &Options::default()).await {
            Err(StreamError::Port { obstacle, .. }) => obstacle,
            other => panic!("{other:?}"),
        }
    };
    assert_eq!(barred(port("/dev/no-such-port")).await, Obstacle::Gone);
    assert_eq!(barred(port("/dev/null")).await, Obstacle::NotSerial);
    assert_eq!(barred(port("/etc/hostname")).await, Obstacle::NotSerial);

    let (mut master, path) = pseudo_terminal();
    let mut first = open(&path).await;
    for _ in 0..2 {
        assert_eq!(barred(port(&path)).await, Obstacle::InUse { by: Some("this program itself".to_owned()) });
    }
    assert!(matches!(ports::obstacle(&path), Some(Obstacle::InUse { .. })));
    // The first reader goes on as if nothing had been tried.
    master.write_all(&sentences(0..1)).unwrap();
    assert_eq!(next_count(&mut first).await, 0.0);
    drop(first);
    assert_eq!(ports::obstacle(&path), None);
    drop(open(&path).await);
}

#[tokio::test]
async fn a_watch_waits_for_the_sensor_and_goes_on_with_its_clock() {
    let folder = tempfile::tempdir().unwrap();
    let name = folder.path().join("sensor");
    let (mut master, path) = pseudo_terminal();
    std::os::unix::fs::symlink(&path, &name).unwrap();
    let source = port(name.to_str().unwrap());
    let mut watch = Reconnecting::open(&source, &Profile::sentence(), &Options::default()).await.unwrap();
    master.write_all(&sentences(0..3)).unwrap();
    for _ in 0..3 {
        assert!(matches!(watch.next().await.unwrap(), Some(Event::Sample(_))));
    }
    std::fs::remove_file(&name).unwrap();
    drop(master);
    assert!(matches!(watch.next().await.unwrap(), Some(Event::Lost(StreamError::Unplugged { .. }))));
    for _ in 0..2 {
        let event = watch.next().await.unwrap();
        let gone = |error: &StreamError| matches!(error, StreamError::Port { obstacle: Obstacle::Gone, .. });
        assert!(matches!(&event, Some(Event::Waiting(error)) if gone(error)), "{event:?}");
    }
    let (mut master, path) = pseudo_terminal();
    std::os::unix::fs::symlink(&path, &name).unwrap();
    let since = Instant::now();
    // The port is there again, and nothing comes from it: that is not the sensor.
    loop {
        match watch.next().await.unwrap() {
            Some(Event::Waiting(StreamError::Silent { .. })) => break,
            Some(Event::Waiting(_)) => assert!(since.elapsed() < LONG),
            other => panic!("{other:?}"),
        }
    }
    // The sensor lost its power meanwhile: it counts from the start.
    loop {
        tokio::select! {
            event = watch.next() => if matches!(event.unwrap(), Some(Event::Back)) { break },
            () = tokio::time::sleep(Duration::from_millis(300)) => master.write_all(&sentences(0..1)).unwrap(),
        }
        assert!(since.elapsed() < LONG);
    }
    master.write_all(&sentences(1..2)).unwrap();
    let mut clocks = Vec::new();
    while clocks.len() < 2 {
        if let Some(Event::Sample(sample)) = watch.next().await.unwrap() {
            clocks.push(sample.clock.value());
        }
    }
    assert!(clocks[0] > 0.01 && clocks[1] > clocks[0], "time goes on: {clocks:?}");
    assert_eq!((watch.counters().good, watch.counters().lost), (5, 0));
}

#[tokio::test]
async fn what_arrives_is_read_only_and_nothing_is_sent_back() {
    let (mut master, path) = pseudo_terminal();
    let mut stream = open(&path).await;
    master.write_all(&sentences(0..10)).unwrap();
    for _ in 0..10 {
        stream.next().await.unwrap();
    }
    rustix::io::ioctl_fionbio(&master, true).unwrap();
    let echo = master.read(&mut [0; 64]).map_err(|error| error.kind());
    assert_eq!(echo, Err(std::io::ErrorKind::WouldBlock), "no echo, no answer");
}

/// Lines without clock or counter, live on a port: their arrival tells the time, whatever the profile says of the rate.
#[tokio::test(start_paused = true)]
async fn lines_without_a_clock_are_timed_by_their_arrival_unless_the_rate_is_said() {
    for (said, expected) in [(None, 50.0), (Some(200.0), 200.0)] {
        let columns = Profile::built_in("columns").unwrap();
        let profile = columns.with(clinoblade::stream::Overrides {
            rate: said.map(clinoblade::units::Hertz::new),
            ..Default::default()
        });
        let (mut line, mut stream) = in_memory(&profile.unwrap(), &Options::default());
        let writer = tokio::spawn(async move {
            for _ in 0..100 {
                line.write_all(b"0.001,0.002,1.0\n").await.unwrap();
                tokio::time::sleep(Duration::from_millis(20)).await;
            }
            line
        });
        let mut clocks = Vec::new();
        while clocks.len() < 95 {
            clocks.push(stream.next().await.unwrap().unwrap().clock.value());
        }
        drop(writer.await.unwrap());
        let rate = 40.0 / (clocks[94] - clocks[54]);
        assert!((rate / expected - 1.0).abs() < 0.05, "{said:?}: {rate}");
    }
}
