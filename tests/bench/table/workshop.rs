//! The page over a sensor at a port, as the program serves it.

use clinoblade::bench::conductor::{Sensor, SessionOptions, start};
use clinoblade::bench::{Instrument, SetupHandle};
use clinoblade::logbook::{Location, Logbook, NewSetup};
use clinoblade::page::{Page, serve};
use clinoblade::record::Head;
use clinoblade::stream::{Options, Profile, SampleStream, Source};
use std::net::SocketAddr;

/// Where the page is served; the folder holds its logbook.
pub async fn page_over(port: &str) -> (SocketAddr, tempfile::TempDir) {
    let folder = tempfile::tempdir().expect("a folder");
    let logbook = Logbook::open(&Location::File(folder.path().join("bench.sqlite"))).await.expect("a logbook");
    let head = Head::from_toml(&Head::template("Workshop trainer")).expect("the template");
    let new = NewSetup { cautions_acknowledged_at: Some(jiff::Timestamp::UNIX_EPOCH), ..NewSetup::of(head) };
    let number = logbook.new_setup(new).await.expect("a setup").number;
    let open = SetupHandle::find(logbook, Some(number)).await.expect("the setup");
    let profile = Profile::sentence();
    let instrument = Instrument::new(profile.clone(), None, open.setup().head.rotation);
    let source = Source::Port(port.to_owned());
    let stream = SampleStream::open(&source, &profile, &Options::default()).await.expect("the port");
    let sensor = Sensor { stream, instrument, plug: None, name: "wire".to_owned() };
    let options = SessionOptions { demo: false, absent: None };
    let (conductor, _session) = start(sensor, Vec::new(), open, options);
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.expect("a listener");
    let address = listener.local_addr().expect("its address");
    tokio::spawn(serve(listener, Page::new(conductor, address, None, None)));
    (address, folder)
}
