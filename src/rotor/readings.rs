//! A table of readings round the turn, as text: one line a reading, columns by name.
//!
//! ```text
//! # rotation=clockwise
//! blade,station_deg,clip,apparent_deg,span_deg,u_apparent_deg,u_span_deg,u_station_deg
//! A,0,forward,0.42,-1.98,0.03,0.03
//! A,90,reversed,3.10,-2.31,0.03,0.03
//! ```
//!
//! A blade is a letter or its number from 1. `apparent_deg` and `span_deg` are in the blade's axes, after the clip's
//! sign was turned. The last two columns (standard uncertainties, degrees) may be left out. Lines that
//! begin with `#` and empty lines are passed over.

use super::{BladeName, Clip, PlaceError, Rotation, Station};
use crate::units::{Angle, ParseAngleError};

/// One blade read at one station: apparent pitch and span slope.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RotorReading {
    /// The blade.
    pub blade: BladeName,
    /// Where it stood.
    pub station: Station,
    /// How the clip sat.
    pub clip: Clip,
    /// Apparent pitch, clip turned.
    pub apparent: Angle,
    /// Span slope, tip up positive, clip turned.
    pub span: Angle,
    /// Standard uncertainties of the two, where they are known.
    pub u: Option<ReadingUncertainty>,
}

/// Standard uncertainties of one reading (k = 1), both above zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadingUncertainty {
    /// Of the apparent pitch.
    pub apparent: Angle,
    /// Of the span slope.
    pub span: Angle,
    /// Of the station at which the blade stood; zero where it is known exactly.
    pub station: Angle,
}

/// A table of readings with the direction in which its stations are counted.
#[derive(Debug, Clone, PartialEq)]
pub struct Readings {
    /// Direction of rotation.
    pub rotation: Rotation,
    /// The readings in the table's order.
    pub readings: Vec<RotorReading>,
    /// Whether the table calls its blades by numbers.
    pub numbered: bool,
}

/// Why a text is no table of readings.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ReadingsError {
    /// No direction of rotation.
    #[error("no rotation")]
    NoRotation,
    /// Two directions of rotation.
    #[error("rotations: {table}, {asked}")]
    TwoRotations {
        /// In the table.
        table: Rotation,
        /// From the command.
        asked: Rotation,
    },
    /// No header line.
    #[error("no header")]
    NoHeader,
    /// A header that cannot be used.
    #[error("line {line}: {problem}")]
    Header {
        /// Line number, from 1.
        line: usize,
        /// What is wrong with it.
        problem: Box<Self>,
    },
    /// A column that is not there.
    #[error("missing column: {0}")]
    MissingColumn(&'static str),
    /// A column that is not known.
    #[error("unknown column: {0}")]
    UnknownColumn(String),
    /// The same column twice.
    #[error("repeated column: {0}")]
    RepeatedColumn(String),
    /// One of the two uncertainties without the other.
    #[error("half an uncertainty")]
    HalfUncertainty,
    /// A line with too few or too many fields.
    #[error("{line}: {have} fields")]
    Fields {
        /// Line number, from 1.
        line: usize,
        /// Fields on it.
        have: usize,
        /// Columns in the header.
        want: usize,
    },
    /// A field that cannot be read.
    #[error("{line}, {column}: {problem}")]
    Field {
        /// Line number, from 1.
        line: usize,
        /// The column's name.
        column: &'static str,
        /// What is wrong.
        problem: FieldProblem,
    },
    /// A header and nothing below it.
    #[error("no readings")]
    NoReadings,
}

/// Why a field cannot be read.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FieldProblem {
    /// No station, blade, clip or direction of rotation.
    #[error(transparent)]
    Place(#[from] PlaceError),
    /// No number of degrees.
    #[error(transparent)]
    Angle(#[from] ParseAngleError),
    /// A blade that is neither a letter nor a number within [`BladeName::MOST`].
    #[error("no blade number: {0}")]
    BladeNumber(String),
    /// An angle larger than there is.
    #[error("beyond {limit}°: {angle}")]
    Beyond {
        /// The angle.
        angle: Angle,
        /// The most there is either way, degrees.
        limit: f64,
    },
    /// A standard uncertainty of zero or less.
    #[error("not above zero")]
    NotAboveZero,
}

const NAMES: [&str; 8] =
    ["blade", "station_deg", "clip", "apparent_deg", "span_deg", "u_apparent_deg", "u_span_deg", "u_station_deg"];
const NEEDED: usize = 5;

impl Readings {
    /// Reads a table. `rotation` is the direction asked for outside it, if any.
    ///
    /// # Errors
    /// Names the line and column of what cannot be read.
    pub fn from_csv(text: &str, rotation: Option<Rotation>) -> Result<Self, ReadingsError> {
        let text = text.trim_start_matches('\u{feff}');
        let mut noted = None;
        let mut header: Option<Header> = None;
        let mut readings = Vec::new();
        let mut numbered = false;
        for (index, line) in text.lines().enumerate() {
            let (number, line) = (index + 1, line.trim());
            if let Some(comment) = line.strip_prefix('#') {
                noted = noted_rotation(comment, number)?.or(noted);
            } else if line.is_empty() {
            } else if let Some(header) = &header {
                let row = Row::new(header, line, number)?;
                numbered |= row.names_blade_by_number();
                readings.push(row.reading()?);
            } else {
                let found = Header::read(line);
                header = Some(found.map_err(|e| ReadingsError::Header { line: number, problem: Box::new(e) })?);
            }
        }
        if header.is_none() {
            return Err(ReadingsError::NoHeader);
        }
        if readings.is_empty() {
            return Err(ReadingsError::NoReadings);
        }
        let rotation = match (noted, rotation) {
            (Some(table), Some(asked)) if table != asked => {
                return Err(ReadingsError::TwoRotations { table, asked });
            }
            (one, other) => one.or(other).ok_or(ReadingsError::NoRotation)?,
        };
        Ok(Self { rotation, readings, numbered })
    }
}

/// The rotation in a comment, where it names one.
fn noted_rotation(comment: &str, line: usize) -> Result<Option<Rotation>, ReadingsError> {
    let Some((key, word)) = comment.split_once(['=', ':']) else { return Ok(None) };
    if !key.trim().eq_ignore_ascii_case("rotation") {
        return Ok(None);
    }
    // What a spreadsheet appends to a short line is no part of the word.
    let word = word.trim().trim_end_matches(',').trim_end();
    word.parse().map(Some).map_err(|e: PlaceError| ReadingsError::Field { line, column: "rotation", problem: e.into() })
}

/// Where each known column stands.
struct Header {
    places: [Option<usize>; NAMES.len()],
    columns: usize,
}

impl Header {
    fn read(line: &str) -> Result<Self, ReadingsError> {
        let mut places = [None; NAMES.len()];
        let mut columns = 0;
        for (place, title) in line.split(',').map(plain).enumerate() {
            columns += 1;
            let known = NAMES.iter().position(|name| name.eq_ignore_ascii_case(title));
            let slot = known.and_then(|k| places.get_mut(k));
            match slot {
                None => return Err(ReadingsError::UnknownColumn(title.to_owned())),
                Some(Some(_)) => return Err(ReadingsError::RepeatedColumn(title.to_owned())),
                Some(slot) => *slot = Some(place),
            }
        }
        if let Some((name, _)) = NAMES.iter().zip(&places).take(NEEDED).find(|(_, place)| place.is_none()) {
            return Err(ReadingsError::MissingColumn(name));
        }
        // How well a station is known says nothing without how well it was read.
        if places[5].is_some() != places[6].is_some() || (places[7].is_some() && places[5].is_none()) {
            return Err(ReadingsError::HalfUncertainty);
        }
        Ok(Self { places, columns })
    }
}

/// A field without blanks and quotation marks around it.
fn plain(field: &str) -> &str {
    field.trim().trim_matches('\u{22}').trim()
}

/// One line of the table.
struct Row<'a> {
    /// In the order of [`NAMES`]; empty where the table has no such column.
    fields: [&'a str; NAMES.len()],
    line: usize,
}

impl<'a> Row<'a> {
    fn new(header: &Header, text: &'a str, line: usize) -> Result<Self, ReadingsError> {
        let parts: Vec<&str> = text.split(',').map(plain).collect();
        if parts.len() != header.columns {
            return Err(ReadingsError::Fields { line, have: parts.len(), want: header.columns });
        }
        let fields = header.places.map(|place| place.and_then(|p| parts.get(p).copied()).unwrap_or(""));
        Ok(Self { fields, line })
    }

    fn names_blade_by_number(&self) -> bool {
        self.fields[0].starts_with(|c: char| c.is_ascii_digit())
    }

    fn problem(&self, column: usize, problem: impl Into<FieldProblem>) -> ReadingsError {
        let column = NAMES.get(column).copied().unwrap_or("");
        ReadingsError::Field { line: self.line, column, problem: problem.into() }
    }

    fn reading(&self) -> Result<RotorReading, ReadingsError> {
        Ok(RotorReading {
            blade: self.blade()?,
            station: self.station()?,
            clip: self.fields[2].parse().map_err(|e: PlaceError| self.problem(2, e))?,
            apparent: self.angle(3, 180.0)?,
            span: self.angle(4, 90.0)?,
            u: self.uncertainty()?,
        })
    }

    /// A station may be counted on or back past the boom, by one turn at most: beyond that it is a slip of the pen.
    fn station(&self) -> Result<Station, ReadingsError> {
        let station = self.fields[1].parse().map_err(|e: PlaceError| self.problem(1, e))?;
        self.angle(1, 360.0).map(|_| station)
    }

    fn blade(&self) -> Result<BladeName, ReadingsError> {
        if !self.names_blade_by_number() {
            return self.fields[0].parse().map_err(|e: PlaceError| self.problem(0, e));
        }
        let number = self.fields[0].parse::<usize>().ok();
        number
            .and_then(|number| BladeName::from_index(number.checked_sub(1)?))
            .ok_or_else(|| self.problem(0, FieldProblem::BladeNumber(self.fields[0].to_owned())))
    }

    fn angle(&self, column: usize, limit: f64) -> Result<Angle, ReadingsError> {
        let angle: Angle = self.fields[column].parse().map_err(|e: ParseAngleError| self.problem(column, e))?;
        if angle.degrees().abs() <= limit + 1e-9 {
            Ok(angle)
        } else {
            Err(self.problem(column, FieldProblem::Beyond { angle, limit }))
        }
    }

    /// Both zero (or both empty) counts as not known: such readings are weighed alike.
    fn uncertainty(&self) -> Result<Option<ReadingUncertainty>, ReadingsError> {
        if self.fields[5].is_empty() && self.fields[6].is_empty() {
            return Ok(None);
        }
        let (apparent, span) = (self.angle(5, 180.0)?, self.angle(6, 180.0)?);
        if apparent == Angle::ZERO && span == Angle::ZERO {
            return Ok(None);
        }
        for (column, u) in [(5, apparent), (6, span)] {
            if u <= Angle::ZERO {
                return Err(self.problem(column, FieldProblem::NotAboveZero));
            }
        }
        let station = if self.fields[7].is_empty() { Angle::ZERO } else { self.angle(7, 180.0)? };
        if station < Angle::ZERO {
            return Err(self.problem(7, FieldProblem::NotAboveZero));
        }
        Ok(Some(ReadingUncertainty { apparent, span, station }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEADER: &str = "blade,station_deg,clip,apparent_deg,span_deg";

    fn read(text: &str) -> Result<Readings, ReadingsError> {
        Readings::from_csv(text, Some(Rotation::Clockwise))
    }

    fn refused(line: &str) -> ReadingsError {
        read(&format!("{HEADER}\n{line}\n")).unwrap_err()
    }

    /// The column and the problem of the only line.
    fn problem(line: &str) -> (&'static str, FieldProblem) {
        match refused(line) {
            ReadingsError::Field { line: 2, column, problem } => (column, problem),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_table_as_a_person_writes_it() {
        let table = "# club bench, second try\r\n# rotation = anticlockwise\r\n\r\n\
                     blade, station_deg, clip, apparent_deg, span_deg, u_apparent_deg, u_span_deg\r\n\
                     A, 0, forward, 0.42, −1.98, 0.03, 0.04\r\nb,-90,REVERSED,3.1,-2.31,,\r\n";
        let found = Readings::from_csv(table, None).unwrap();
        assert_eq!(found.rotation, Rotation::Anticlockwise);
        assert!(!found.numbered);
        let [first, second] = found.readings[..] else { panic!() };
        assert!((first.span.degrees() + 1.98).abs() < 1e-12);
        assert!((first.u.unwrap().span.degrees() - 0.04).abs() < 1e-12);
        assert_eq!((second.blade.index(), second.clip, f64::from(second.station)), (1, Clip::Reversed, 270.0));
        assert_eq!(second.u, None);
    }

    #[test]
    fn columns_go_by_name_and_blades_by_number_too() {
        let table = "span_deg,clip,blade,apparent_deg,station_deg\n-2,forward,2,7.5,90\n";
        let found = read(table).unwrap();
        assert!(found.numbered);
        assert_eq!(found.readings[0].blade.index(), 1);
        assert!((found.readings[0].apparent.degrees() - 7.5).abs() < 1e-12);
    }

    #[test]
    fn the_direction_of_rotation_must_be_known_and_be_one() {
        let table = format!("{HEADER}\nA,0,forward,1,2\n");
        assert_eq!(Readings::from_csv(&table, None), Err(ReadingsError::NoRotation));
        let noted = format!("#rotation=anticlockwise\n{table}");
        assert!(matches!(
            Readings::from_csv(&noted, Some(Rotation::Clockwise)),
            Err(ReadingsError::TwoRotations { .. })
        ));
        assert!(Readings::from_csv(&format!("#rotation=left\n{table}"), None).is_err());
    }

    #[test]
    fn what_cannot_be_read_is_named_with_its_line_and_column() {
        assert_eq!(refused("A,0,forward,1"), ReadingsError::Fields { line: 2, have: 4, want: 5 });
        assert_eq!(problem("Z,0,forward,1,2"), ("blade", PlaceError::Blade("Z".into()).into()));
        assert_eq!(problem("0,0,forward,1,2"), ("blade", FieldProblem::BladeNumber("0".into())));
        assert_eq!(problem("A,north,forward,1,2"), ("station_deg", PlaceError::Station("north".into()).into()));
        let clip = PlaceError::Word { given: String::new(), choices: "forward, reversed" };
        assert_eq!(problem("A,0,,1,2"), ("clip", clip.into()));
        assert!(matches!(problem("A,0,forward,nan,2"), ("apparent_deg", FieldProblem::Angle(_))));
        let beyond = |angle, limit| FieldProblem::Beyond { angle: Angle::from_degrees(angle), limit };
        assert_eq!(problem("A,0,forward,1,95"), ("span_deg", beyond(95.0, 90.0)));
        assert_eq!(problem("A,0,forward,361,2"), ("apparent_deg", beyond(361.0, 180.0)));
        assert_eq!(problem("A,9e3,forward,1,2"), ("station_deg", beyond(9e3, 360.0)));
        assert!(read(&format!("{HEADER}\nA,-270,forward,1,2\n")).is_ok());
        assert_eq!(refused(""), ReadingsError::NoReadings);
    }

    #[test]
    fn headers_are_checked() {
        assert_eq!(read(""), Err(ReadingsError::NoHeader));
        let problem = |header: &str| match read(&format!("# a remark\n{header}\n")) {
            Err(ReadingsError::Header { line: 2, problem }) => *problem,
            other => panic!("{other:?}"),
        };
        assert_eq!(problem("blade,station_deg,clip,span_deg"), ReadingsError::MissingColumn("apparent_deg"));
        assert!(matches!(problem(&format!("{HEADER},colour")), ReadingsError::UnknownColumn(_)));
        assert!(matches!(problem(&format!("{HEADER},clip")), ReadingsError::RepeatedColumn(_)));
        assert_eq!(problem(&format!("{HEADER},u_span_deg")), ReadingsError::HalfUncertainty);
    }

    #[test]
    fn uncertainties_are_above_zero() {
        let table = |u: &str| format!("{HEADER},u_apparent_deg,u_span_deg\nA,0,forward,1,2,{u}\n");
        assert_eq!(read(&table("0,0")).unwrap().readings[0].u, None);
        let zero = ReadingsError::Field { line: 2, column: "u_span_deg", problem: FieldProblem::NotAboveZero };
        assert_eq!(read(&table("0.1,0")), Err(zero));
        assert!(read(&table("-0.1,0.1")).is_err());
    }

    proptest::proptest! {
        #[test]
        fn no_text_makes_it_fail_otherwise_than_with_words(text in ".{0,200}") {
            let _ = read(&text);
            let _ = read(&format!("{HEADER},u_apparent_deg,u_span_deg\n{text}"));
        }
    }
}
