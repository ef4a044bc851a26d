//! Which source is read when none is named.

use clinoblade::stream::ports::{Obstacle, PortReport, UsbIdentity};
use clinoblade::stream::{Source, StreamError, choose};

fn built_in(path: &str) -> PortReport {
    PortReport { path: path.to_owned(), usb: None, obstacle: None }
}

fn usb(path: &str, product: &str) -> PortReport {
    let usb = UsbIdentity {
        vendor_id: 1,
        product_id: 2,
        product: Some(product.to_owned()),
        serial_number: Some("0042".to_owned()),
    };
    PortReport { path: path.to_owned(), usb: Some(usb), obstacle: None }
}

fn silent(_: &str) -> bool {
    false
}

#[test]
fn a_built_in_port_from_which_nothing_comes_is_no_sensor() {
    let refused = choose(&[built_in("/dev/ttyS0")], None, silent);
    assert!(matches!(&refused, Err(StreamError::SilentPort { path }) if path == "/dev/ttyS0"), "{refused:?}");
}

#[test]
fn the_saved_one_comes_first() {
    let saved = Source::Tcp("sensor.local:4000".to_owned());
    assert_eq!(choose(&[usb("/dev/ttyUSB0", "club board")], Some(&saved), silent).unwrap(), saved);
}

#[test]
fn the_only_port_present_is_taken() {
    assert_eq!(
        choose(&[built_in("/dev/ttyS0")], None, |path| path == "/dev/ttyS0").unwrap(),
        Source::Port("/dev/ttyS0".to_owned())
    );
    let beside_built_in = [built_in("/dev/ttyS0"), built_in("/dev/ttyS1"), usb("/dev/ttyACM0", "club board")];
    assert_eq!(choose(&beside_built_in, None, silent).unwrap(), Source::Port("/dev/ttyACM0".to_owned()));
}

#[test]
fn nothing_present_is_told() {
    assert!(matches!(choose(&[], None, silent), Err(StreamError::NoPort)));
}

#[test]
fn several_are_listed_with_what_is_known_of_them() {
    let mut second = usb("/dev/ttyUSB1", "radio link");
    second.obstacle = Some(Obstacle::NotPermitted { group: Some("dialout".to_owned()) });
    let present = [usb("/dev/ttyUSB0", "club board"), second];
    match choose(&present, None, silent) {
        Err(StreamError::SeveralPorts { found }) => assert_eq!(found, present),
        other => panic!("{other:?}"),
    }
}
