//! A Modbus RTU slave of a general-purpose library (tokio-modbus) on the other end of a real pseudo-terminal.
#![cfg(unix)]

use clinoblade::stream::codec::{Frame, Refusal};
use clinoblade::stream::ports::Parity;
use clinoblade::stream::{Advice, Asked, Options, Profile, SampleStream, Source, StreamError};
use std::future::{Ready, ready};
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio_modbus::prelude::{ExceptionCode, Request, Response, SlaveRequest};
use tokio_modbus::server::{Service, rtu::Server};
use tokio_serial::{SerialPort, SerialStream};

/// An inclined accelerometer in mg in input registers 0 to 2, its angles in hundredths of a degree in holding registers 16
/// and 17, a single-precision angle with the low word first in 20 and 21.
struct Sensor {
    asked: Arc<AtomicU32>,
}

impl Service for Sensor {
    type Request = SlaveRequest<'static>;
    type Response = Response;
    type Exception = ExceptionCode;
    type Future = Ready<Result<Response, ExceptionCode>>;

    fn call(&self, request: SlaveRequest<'static>) -> Self::Future {
        self.asked.fetch_add(1, Ordering::Relaxed);
        let [high, low] = [0xc2ed, 0x4000];
        ready(match request.request {
            Request::ReadInputRegisters(0, 3) => Ok(Response::ReadInputRegisters(vec![259, 0xfff6, 966])),
            Request::ReadHoldingRegisters(16, 2) => Ok(Response::ReadHoldingRegisters(vec![1500, 0xff9c])),
            Request::ReadHoldingRegisters(20, 2) => Ok(Response::ReadHoldingRegisters(vec![low, high])),
            Request::ReadInputRegisters(..) | Request::ReadHoldingRegisters(..) => {
                Err(ExceptionCode::IllegalDataAddress)
            }
            _ => Err(ExceptionCode::IllegalFunction),
        })
    }
}

/// A pseudo-terminal: the master's end, and the slave's path. The slave's end stays open until the port is.
fn pair() -> (SerialStream, SerialStream, String) {
    let (master, slave) = SerialStream::pair().unwrap();
    let path = slave.name().unwrap();
    (master, slave, path)
}

/// A stream from such a sensor, and how often it was asked.
async fn open(profile: &Profile) -> (SampleStream, Arc<AtomicU32>) {
    let (master, slave, path) = pair();
    let asked = Arc::new(AtomicU32::new(0));
    tokio::spawn(Server::new(master).serve_forever(Sensor { asked: asked.clone() }));
    let stream = SampleStream::open(&Source::Port(path), profile, &Options::default()).await.unwrap();
    drop(slave);
    (stream, asked)
}

fn own(text: &str) -> Profile {
    Profile::from_toml(text, "test.toml").unwrap()
}

#[tokio::test]
async fn a_polled_accelerometer_brings_samples_at_an_even_pace() {
    let (mut stream, asked) = open(&Profile::modbus()).await;
    let begun = Instant::now();
    for _ in 0..40 {
        assert_eq!(stream.next().await.unwrap().unwrap().counts, [259.0, -10.0, 966.0]);
    }
    let seconds = begun.elapsed().as_secs_f64();
    assert!(seconds > 1.7, "forty answers at 20 Hz took {seconds} s");
    assert_eq!((stream.counters().good, stream.counters().damaged()), (40, 0));
    assert!((40..=41).contains(&asked.load(Ordering::Relaxed)), "it is asked once an answer");
}

#[tokio::test]
async fn angles_in_holding_registers_become_the_vector_up() {
    let profile = own("format = 'modbus'\nrate_hz = 50\n[modbus]\naddress = 1\nregisters = 'holding'\n\
        pitch = { at = 16, type = 'i16', scale = 0.01 }\nroll = { at = 17, type = 'i16', scale = 0.01 }");
    let (mut stream, _) = open(&profile).await;
    let [x, y, z] = stream.next().await.unwrap().unwrap().counts;
    assert!((x.asin().to_degrees() - 15.0).abs() < 1e-9 && (y.atan2(z).to_degrees() + 1.0).abs() < 1e-9);
    assert!((x * x + y * y + z * z - 1.0).abs() < 1e-12);
}

#[tokio::test]
async fn two_registers_may_have_their_low_word_first() {
    let profile = own("format = 'modbus'\n[modbus]\naddress = 1\nregisters = 'holding'\norder = 'little'\n\
        tilt = { at = 20, type = 'f32' }");
    let (mut stream, _) = open(&profile).await;
    let [x, _, z] = stream.next().await.unwrap().unwrap().counts;
    assert!((x.atan2(z).to_degrees() + 118.625).abs() < 1e-9);
}

#[tokio::test]
async fn a_slave_that_refuses_is_quoted() {
    let profile = own("format = 'modbus'\nunit = 'mg'\n[modbus]\naddress = 1\nregisters = 'input'\n\
        x = { at = 7, type = 'i16' }\ny = { at = 8, type = 'i16' }\nz = { at = 9, type = 'i16' }");
    let (mut stream, _) = open(&profile).await;
    let error = stream.next().await.unwrap_err();
    let StreamError::NothingDecodes { advice: Advice::Refused(refusal), .. } = error else { panic!("{error}") };
    assert_eq!(refusal, Refusal { address: 1, code: 2, first: 7, count: 3 });
}

#[tokio::test]
async fn a_slave_that_never_answers_is_named() {
    let (mut master, slave, path) = pair();
    let options = Options { silence: Duration::from_millis(700), ..Options::default() };
    let mut stream = SampleStream::open(&Source::Port(path.clone()), &Profile::modbus(), &options).await.unwrap();
    drop(slave);
    let heard = tokio::spawn(async move {
        let mut asked = vec![0; 16];
        master.read_exact(&mut asked).await.unwrap();
        (master, asked)
    });
    let error = stream.next().await.unwrap_err();
    assert!(error.may_come_back());
    let StreamError::NoAnswer { from, asked, .. } = error else { panic!("{error}") };
    assert_eq!((from, asked), (path, Asked { address: 1, baud: 19_200, parity: Parity::Even }));
    let (_master, asked) = heard.await.unwrap();
    // Function 4, registers 0 to 2 of slave 1, a usual example with this CRC [from memory]; the library's slave takes it too.
    let request = Profile::modbus().request().unwrap();
    assert_eq!(asked, [&request[..], &request].concat(), "it is asked again");
    assert_eq!(request, [1, 4, 0, 0, 0, 3, 0xb0, 0x0b]);
}

/// One of the answers, as a slave would write it.
fn answer(x: f64) -> Vec<u8> {
    let mut bytes = Vec::new();
    let frame = Frame { seq: 0, micros: 0, counts: [x, 0.0, 1000.0], celsius: None };
    Profile::modbus().encoder().encode(&frame, &mut bytes);
    bytes
}

#[tokio::test]
async fn an_adapters_echo_late_bytes_and_a_damaged_answer_cost_one_answer_at_most() {
    let (mut master, slave, path) = pair();
    let log = tempfile::tempdir().unwrap();
    let raw = log.path().join("raw.log");
    let options = Options { save_raw: Some(raw.clone()), ..Options::default() };
    let mut stream = SampleStream::open(&Source::Port(path), &Profile::modbus(), &options).await.unwrap();
    drop(slave);
    tokio::spawn(async move {
        let mut request = [0; 8];
        for n in 0u8.. {
            if master.read_exact(&mut request).await.is_err() {
                return;
            }
            let mut bytes = answer(f64::from(n));
            match n {
                // Only some adapters send back what they were given.
                0..=3 => bytes.splice(0..0, request).for_each(drop),
                5 => bytes[6] ^= 1,
                7 => bytes.clear(),
                _ => {}
            }
            for piece in bytes.chunks(3) {
                master.write_all(piece).await.unwrap();
                tokio::time::sleep(Duration::from_millis(1)).await;
            }
        }
    });
    let mut read = Vec::new();
    for _ in 0..8 {
        read.push(stream.next().await.unwrap().unwrap().counts[0]);
    }
    assert_eq!(read, [0.0, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 9.0]);
    assert_eq!((stream.counters().bad.checksum, stream.counters().damaged()), (1, 1));
    stream.save().unwrap();
    let (replayed, _) = clinoblade::stream::SampleDecoder::all(&Profile::modbus(), &std::fs::read(raw).unwrap());
    assert_eq!(
        replayed.iter().map(|sample| sample.counts[0]).collect::<Vec<_>>(),
        read,
        "a raw log plays as it was read"
    );
}

#[tokio::test]
async fn an_unplugged_slave_is_an_error_at_once() {
    let (master, slave, path) = pair();
    let mut stream = SampleStream::open(&Source::Port(path), &Profile::modbus(), &Options::default()).await.unwrap();
    drop((master, slave));
    // Had it not been noticed at once, it would be a slave that does not answer.
    assert!(matches!(stream.next().await, Err(StreamError::Unplugged { .. })));
}

#[test]
fn the_binary_reads_the_slave() {
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let _guard = runtime.enter();
    let (master, slave, path) = pair();
    runtime.spawn(Server::new(master).serve_forever(Sensor { asked: Arc::default() }));
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_clinoblade"))
        .args(["read", "--json", "--profile", "modbus", "--within", "4", "--port", &path])
        .output()
        .unwrap();
    drop(slave);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let read: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    // atan2(259, 966) = 15.009°.
    let angle = read["angle_deg"].as_f64().unwrap();
    assert!((angle - 15.009).abs() < 0.001, "{read}");
    assert_eq!(read["damaged_frames"], 0);
}
