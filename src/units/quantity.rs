//! Quantities that are a number with a unit and nothing more.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize, JsonSchema)]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            /// So many of the unit.
            #[must_use]
            pub const fn new(value: f64) -> Self {
                Self(value)
            }

            /// The bare number, in the unit.
            #[must_use]
            pub const fn value(self) -> f64 {
                self.0
            }
        }

        impl std::ops::Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl std::ops::Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl std::ops::Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                match f.precision() {
                    Some(decimals) => write!(f, "{:.decimals$}{}", self.0, $unit),
                    None => write!(f, "{}{}", self.0, $unit),
                }
            }
        }
    };
}

quantity!(
    /// A time or duration in seconds. Times are those of the stream's own clock unless said otherwise.
    Seconds,
    " s"
);
quantity!(
    /// A frequency in hertz.
    Hertz,
    " Hz"
);
quantity!(
    /// A length in millimetres.
    Millimetres,
    " mm"
);
quantity!(
    /// A temperature in degrees Celsius.
    Celsius,
    " °C"
);
quantity!(
    /// A specific force in units of standard gravity (1 g = 9.80665 m/s²).
    Gravities,
    " g"
);
quantity!(
    /// A share or a stick position in percent.
    Percent,
    " %"
);
