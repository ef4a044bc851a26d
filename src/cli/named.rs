//! Options of which each sensor may have its own: `--port a=DEVICE --port b=DEVICE`, one sensor to a blade.

use super::CliError;
use crate::rotor::Carrier;
use crate::words::sensor_commands::source as words;
use std::convert::Infallible;
use std::str::FromStr;

/// A value, and the blade whose sensor it is for, where one is named.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Named {
    /// The blade that carries the sensor.
    pub carrier: Option<Carrier>,
    /// The value.
    pub value: String,
}

impl FromStr for Named {
    type Err = Infallible;

    /// What stands before the first `=` names a blade, or is part of the value.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let named = text.split_once('=').and_then(|(name, value)| Some((name.parse().ok()?, value)));
        Ok(match named {
            Some((carrier, value)) => Self { carrier: Some(carrier), value: value.to_owned() },
            None => Self { carrier: None, value: text.to_owned() },
        })
    }
}

/// The value for a sensor: its own, else the one for all.
pub(super) fn value_for(values: &[Named], carrier: Option<Carrier>) -> Option<&str> {
    let own = values.iter().find(|named| named.carrier == carrier);
    own.or_else(|| values.iter().find(|named| named.carrier.is_none())).map(|named| named.value.as_str())
}

/// The blades that carry a sensor of their own, in the order in which they were named; empty where there is one sensor
/// for all of them.
pub(super) fn carriers(ports: &[Named]) -> Result<Vec<Carrier>, CliError> {
    let named: Vec<Carrier> = ports.iter().filter_map(|port| port.carrier).collect();
    if named.len() < ports.len() && ports.len() > 1 {
        return Err(CliError::Use(words::whose_port()));
    }
    for (at, carrier) in named.iter().enumerate() {
        if named[..at].contains(carrier) {
            return Err(CliError::Use(words::two_ports(*carrier)));
        }
    }
    for (at, port) in ports.iter().enumerate() {
        if let Some(twice) = ports[..at].iter().find(|other| other.value == port.value) {
            return Err(CliError::Use(words::one_port_twice(&twice.value)));
        }
    }
    Ok(named)
}

/// Refuses values of blades that carry no sensor; and a value for all where each sensor has its own.
pub(super) fn belong(option: &str, values: &[Named], carriers: &[Carrier], one_for_all: bool) -> Result<(), CliError> {
    for (at, named) in values.iter().enumerate() {
        if !one_for_all && values[..at].iter().any(|other| other.value == named.value) {
            return Err(CliError::Use(words::one_value_twice(option, &named.value)));
        }
        if values[..at].iter().any(|other| other.carrier == named.carrier) {
            return Err(CliError::Use(words::two_values(option, named.carrier)));
        }
        match named.carrier {
            Some(carrier) if !carriers.contains(&carrier) => {
                return Err(CliError::Use(words::no_port_for(option, carrier)));
            }
            None if carriers.len() > 1 && !one_for_all => {
                return Err(CliError::Use(words::whose_value(option, &named.value)));
            }
            _ => {}
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(texts: &[&str]) -> Vec<Named> {
        texts.iter().map(|text| text.parse().unwrap()).collect()
    }

    #[test]
    fn what_names_no_blade_is_part_of_the_value() {
        assert_eq!(named(&["a=/dev/ttyUSB0"])[0].carrier, Some("A".parse().unwrap()));
        assert_eq!(named(&["tail=COM3"])[0], Named { carrier: Some(Carrier::Tail), value: "COM3".into() });
        assert_eq!(named(&["/dev/by-id/x=y"])[0], Named { carrier: None, value: "/dev/by-id/x=y".into() });
    }

    #[test]
    fn one_sensor_to_a_blade_and_one_blade_to_a_sensor() {
        let found = |texts: &[&str]| carriers(&named(texts)).map(|all| all.len()).map_err(|error| error.to_string());
        assert_eq!((found(&["/dev/x"]), found(&["a=/dev/x", "b=/dev/y", "tail=/dev/z"])), (Ok(0), Ok(3)));
        for (wrong, says) in [
            (["/dev/x", "/dev/y"], "which blade carries"),
            (["a=/dev/x", "/dev/y"], "which blade carries"),
            (["a=/dev/x", "A=/dev/y"], "Two ports"),
            (["a=/dev/x", "b=/dev/x"], "two blades"),
        ] {
            assert!(found(&wrong).unwrap_err().contains(says), "{wrong:?}");
        }
    }

    #[test]
    fn a_profile_may_be_for_all_and_a_calibration_is_one_sensors() {
        let carriers = carriers(&named(&["a=/dev/x", "b=/dev/y"])).unwrap();
        let profile = named(&["columns", "b=labelled"]);
        assert!(belong("--profile", &profile, &carriers, true).is_ok());
        assert_eq!(value_for(&profile, Some(carriers[0])), Some("columns"));
        assert_eq!(value_for(&profile, Some(carriers[1])), Some("labelled"));
        assert!(belong("--calibration", &named(&["one.toml"]), &carriers, false).is_err());
        // Of two values for one sensor nobody knows which is meant.
        for (option, twice, carriers) in [
            ("--calibration", ["one.toml", "two.toml"], &[][..]),
            ("--profile", ["columns", "labelled"], &[]),
            ("--profile", ["a=columns", "a=labelled"], &carriers),
        ] {
            assert!(belong(option, &named(&twice), carriers, option == "--profile").is_err(), "{twice:?}");
        }
        assert!(belong("--calibration", &named(&["tail=one.toml"]), &carriers, false).is_err());
        assert!(belong("--calibration", &named(&["a=one.toml", "b=one.toml"]), &carriers, false).is_err());
    }
}
