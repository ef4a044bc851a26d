//! A session whose sensor's line breaks and comes back.

use clinoblade::bench::{BenchError, Instrument, Line, Session};
use clinoblade::filter::SteadySettings;
use clinoblade::rotor::Rotation;
use clinoblade::stream::{Options, Plug, Profile, SampleStream, Source};
use std::time::Duration;
use tokio::net::TcpListener;

/// Nobody reads at the moment the cable comes out: who reads next is told at once, and does not wait for it to come back.
#[tokio::test]
async fn a_line_that_broke_while_nothing_was_read_refuses_the_next_reading() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let source = Source::Tcp(listener.local_addr().unwrap().to_string());
    let profile = Profile::sentence();
    let stream = SampleStream::open(&source, &profile, &Options::default()).await.unwrap();
    let instrument = Instrument::new(profile, None, Rotation::Clockwise);
    let session = Session::lasting(stream, Some(Plug::new(source)), instrument);
    let mut line = session.line();
    assert!(matches!(*line.borrow_and_update(), Line::Up));
    let (reader, _) = listener.accept().await.unwrap();
    drop((reader, listener));
    line.wait_for(|line| matches!(line, Line::Down(_))).await.unwrap();
    let reading = session.read(SteadySettings::default());
    let refused =
        tokio::time::timeout(Duration::from_secs(60), reading).await.expect("it waits for a line that is down");
    assert!(matches!(refused, Err(BenchError::Stream(_))), "{refused:?}");
}
