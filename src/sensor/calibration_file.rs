//! A calibration as a TOML document that a person can read, compare and keep.
//!
//! Numbers are written so that they come back bit for bit. What is read is checked before it is used: a
//! damaged file is refused with the name of what is wrong in it.

use super::calibration::{Covariance, PARAMETERS};
use super::{Calibration, Model};
use crate::units::{Angle, Celsius, Gravities};
use serde::{Deserialize, Serialize};

/// Why a document is no calibration.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CalibrationError {
    /// Not the TOML that is wanted.
    #[error("no calibration: {0}")]
    Document(String),
    /// A figure that cannot be.
    #[error("wrong figure: {field}")]
    Figure {
        /// The field's name in the document.
        field: &'static str,
        /// What is wrong with it.
        flaw: Flaw,
    },
}

/// What is wrong with a figure of a calibration.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flaw {
    /// It is empty.
    Empty,
    /// Not every figure is a finite number.
    NotFinite,
    /// It does not tell the three axes apart.
    AxesAlike,
    /// It is not symmetric.
    NotSymmetric,
    /// It gives some angle a negative variance.
    NegativeVariance,
    /// It is not zero or a positive number.
    Negative,
    /// It is under 1.
    UnderOne,
    /// It is not between 0 and 180.
    NoHalfTurn,
}

/// The document, field by field.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    name: String,
    #[serde(default)]
    sensor: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    made_on: Option<jiff::civil::Date>,
    #[serde(skip_serializing_if = "Option::is_none")]
    temperature_celsius: Option<Celsius>,
    model: Model,
    offset_counts: [f64; 3],
    matrix_g_per_count: [[f64; 3]; 3],
    residual_rms_g: Gravities,
    condition: f64,
    u_case_rotation_deg: f64,
    /// Order: o_x, o_y, o_z in g, then E_xx, E_xy, E_xz, E_yx … E_zz.
    covariance: [[f64; PARAMETERS]; PARAMETERS],
}

impl Calibration {
    /// The calibration as a TOML document.
    ///
    /// # Errors
    /// When it cannot be written as one.
    pub fn to_toml(&self) -> Result<String, CalibrationError> {
        let document = Document {
            name: self.name.clone(),
            sensor: self.sensor.clone(),
            made_on: self.made_on,
            temperature_celsius: self.temperature,
            model: self.model,
            offset_counts: self.offset,
            matrix_g_per_count: self.matrix,
            residual_rms_g: self.residual_rms,
            condition: self.condition,
            u_case_rotation_deg: self.case_rotation.degrees(),
            covariance: std::array::from_fn(|i| std::array::from_fn(|j| self.covariance[(i, j)])),
        };
        toml::to_string(&document).map_err(|error| CalibrationError::Document(error.to_string()))
    }

    /// Reads a calibration from a TOML document.
    ///
    /// # Errors
    /// When the text is no such document, or a figure in it cannot be.
    pub fn from_toml(text: &str) -> Result<Self, CalibrationError> {
        let document: Document = toml::from_str(text).map_err(|error| CalibrationError::Document(error.to_string()))?;
        document.check()?;
        Ok(Self {
            name: document.name,
            sensor: document.sensor,
            made_on: document.made_on,
            temperature: document.temperature_celsius,
            model: document.model,
            offset: document.offset_counts,
            matrix: document.matrix_g_per_count,
            covariance: Covariance::from_fn(|i, j| document.covariance[i][j]),
            case_rotation: Angle::from_degrees(document.u_case_rotation_deg),
            residual_rms: document.residual_rms_g,
            condition: document.condition,
        })
    }
}

impl Document {
    fn check(&self) -> Result<(), CalibrationError> {
        let refuse = |field, flaw| Err(CalibrationError::Figure { field, flaw });
        if self.name.trim().is_empty() {
            return refuse("name", Flaw::Empty);
        }
        if !self.offset_counts.iter().all(|b| b.is_finite()) {
            return refuse("offset_counts", Flaw::NotFinite);
        }
        let matrix = nalgebra::Matrix3::from_fn(|i, j| self.matrix_g_per_count[i][j]);
        let size = matrix.norm();
        // Relative to its size: a sensor with many counts per g has a tiny determinant.
        if !(size.is_finite() && size > 0.0 && (matrix / size).determinant().abs() > 1e-3) {
            return refuse("matrix_g_per_count", Flaw::AxesAlike);
        }
        let covariance = Covariance::from_fn(|i, j| self.covariance[i][j]);
        if !covariance.iter().all(|v| v.is_finite()) {
            return refuse("covariance", Flaw::NotFinite);
        }
        let largest = covariance.amax();
        if (covariance - covariance.transpose()).amax() > 1e-9 * largest {
            return refuse("covariance", Flaw::NotSymmetric);
        }
        if covariance.symmetric_eigenvalues().min() < -1e-9 * largest {
            return refuse("covariance", Flaw::NegativeVariance);
        }
        if !(self.residual_rms_g.value() >= 0.0 && self.residual_rms_g.value().is_finite()) {
            return refuse("residual_rms_g", Flaw::Negative);
        }
        if self.condition.is_nan() || self.condition < 1.0 {
            return refuse("condition", Flaw::UnderOne);
        }
        if !(0.0..=180.0).contains(&self.u_case_rotation_deg) {
            return refuse("u_case_rotation_deg", Flaw::NoHalfTurn);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn some() -> Calibration {
        let mut calibration = Calibration::nominal(16384.0);
        calibration.name = "bench sensor, November".into();
        calibration.sensor = "clip 2".into();
        calibration.made_on = Some(jiff::civil::date(2026, 11, 25));
        calibration.temperature = Some(Celsius::new(21.3));
        calibration.model = Model::OffsetsAndScales;
        calibration.offset = [1.0 / 3.0, -1e-17, 812.25];
        calibration.matrix[0][1] = 1e-7 / 7.0;
        calibration.residual_rms = Gravities::new(0.0012);
        calibration.condition = 3.25;
        calibration
    }

    #[test]
    fn comes_back_bit_for_bit() {
        let calibration = some();
        let text = calibration.to_toml().unwrap();
        let back = Calibration::from_toml(&text).unwrap();
        assert_eq!(back, calibration);
        assert!(text.contains("made_on = \"2026-11-25\""), "{text}");
        assert!(text.contains("model = \"offsets-and-scales\""), "{text}");
    }

    #[test]
    fn the_doubt_of_the_case_comes_back_as_well() {
        let calibration = Calibration { case_rotation: Angle::from_degrees(1.25), ..some() };
        let back = Calibration::from_toml(&calibration.to_toml().unwrap()).unwrap();
        assert_eq!(back, calibration);
    }

    #[test]
    fn a_damaged_file_is_refused_by_the_name_of_what_is_wrong() {
        let good = some().to_toml().unwrap();
        let with = |from: &str, to: &str| {
            assert!(good.contains(from), "{from}\n{good}");
            Calibration::from_toml(&good.replace(from, to)).unwrap_err()
        };
        let figure = |field, flaw| CalibrationError::Figure { field, flaw };
        assert_eq!(with("condition = 3.25", "condition = nan"), figure("condition", Flaw::UnderOne));
        assert!(with("condition = 3.25", "conditoin = 3.25").to_string().contains("unknown field `conditoin`"));
        assert_eq!(with("812.25", "inf"), figure("offset_counts", Flaw::NotFinite));
        assert_eq!(with("residual_rms_g = 0.0012", "residual_rms_g = -1.0"), figure("residual_rms_g", Flaw::Negative));
        assert!(Calibration::from_toml("name = \"x\"").unwrap_err().to_string().contains("missing field"));
        assert!(Calibration::from_toml("$PCLIN,1,2").is_err());

        let mut flat = some();
        flat.matrix[2] = flat.matrix[1];
        let again = |calibration: &Calibration| Calibration::from_toml(&calibration.to_toml().unwrap()).unwrap_err();
        assert_eq!(again(&flat), figure("matrix_g_per_count", Flaw::AxesAlike));
        let mut lopsided = some();
        lopsided.covariance[(0, 1)] = 1.0;
        assert_eq!(again(&lopsided), figure("covariance", Flaw::NotSymmetric));
        let mut negative = some();
        negative.covariance[(4, 4)] = -1.0;
        assert_eq!(again(&negative), figure("covariance", Flaw::NegativeVariance));
    }
}
