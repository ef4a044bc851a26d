//! One setup as a document of its own: what goes from one logbook to another, or to whoever wants to work with it.
//!
//! The document is JSON, described by a JSON Schema (draft 2020-12) that is generated from these types: [`schema()`].
//! It holds the setup, everything that happened in it in order, and the raw samples of each capture, bit for bit.
//! Numbers come back to the last bit; of an angle, a logbook and a document alike keep twelve decimals of a degree.

mod canonical;
mod complaint;
mod import;
mod letters;
mod limits;
mod place;
mod plausible;
mod read;
mod schema;
mod seal;

pub use complaint::{Complaint, Wanted};
pub use import::Imported;
pub use limits::{MOST_DEGREES, MOST_LETTERS};
pub use plausible::has_blade;
pub use read::DocumentError;
pub use schema::schema;

use super::entries::kept_samples;
use super::store::Query;
use super::{Logbook, LogbookError, Part, document, samples};
use crate::record::{Entry, RawSamples, Setup};
pub use letters::unwritable;
pub use limits::too_long;
use schemars::JsonSchema;
use seal::Sealed;
use serde::{Deserialize, Serialize};

/// What a document says that it is.
const FORMAT: &str = "clinoblade setup";

/// The version of the format that is written here, and the newest that is read. A later one that this version could
/// misunderstand gets the next number.
const VERSION: u32 = 1;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
enum Format {
    #[serde(rename = "clinoblade setup")]
    Setup,
}

/// One measured setup with everything that happened in it and the raw samples behind it, as it goes from one logbook to
/// another.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SetupDocument {
    /// What this is.
    format: Format,
    /// The version of this format.
    #[schemars(range(min = 1, max = 1))]
    version: u32,
    /// The setup, with the number that it has in the logbook it was exported from.
    pub setup: Setup,
    /// CRC-64/XZ of the setup as RFC 8785 (JSON Canonicalization Scheme) writes it, as 16 hexadecimal digits. Without it the
    /// setup is taken as it is, and marked as edited.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    setup_checksum: Option<String>,
    /// What happened in it, in order.
    pub entries: Vec<Recorded>,
}

/// One thing that happened, with the raw samples that it was made from. In a document each has its checksum beside it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(into = "Sealed", from = "Sealed")]
pub struct Recorded {
    /// What happened.
    pub entry: Entry,
    /// Of a capture, the samples as they came, before any calibration.
    pub raw_samples: Option<RawSamples>,
}

impl SetupDocument {
    /// The document of a setup.
    #[must_use]
    pub fn new(setup: Setup, entries: Vec<Recorded>) -> Self {
        let setup_checksum = seal::of_setup(&setup);
        Self { format: Format::Setup, version: VERSION, setup, setup_checksum, entries }
    }
}

/// A setup's entries with their samples, in one look, so that they belong together.
const WITH_SAMPLES: &str =
    "SELECT entries.document, entries.checksum, raw_samples.samples, raw_samples.checksum FROM entries
                            LEFT JOIN raw_samples
                            ON raw_samples.setup = entries.setup AND raw_samples.entry = entries.number
                            WHERE entries.setup = $1 ORDER BY entries.number";

/// An entry's document and its samples, each with its checksum.
type Row = (String, Option<i64>, Option<Vec<u8>>, Option<i64>);

impl Logbook {
    /// A setup as a document of its own.
    ///
    /// # Errors
    /// When there is no setup of that number, or something of it cannot be understood.
    pub async fn export(&self, number: u32) -> Result<SetupDocument, LogbookError> {
        let setup = self.setup(number).await?;
        Ok(SetupDocument::new(setup, recorded(number, self.store.rows(Query::new(WITH_SAMPLES).with(number)).await?)?))
    }
}

fn recorded(setup: u32, rows: Vec<Row>) -> Result<Vec<Recorded>, LogbookError> {
    let recorded = |(number, (text, sum, bytes, of_bytes)): (u32, Row)| {
        let entry: Entry = document::read(&(text, sum), Part::Entry { setup, number })?;
        let raw_samples = bytes.map(|bytes| kept_samples(&bytes, of_bytes, entry.id)).transpose()?;
        Ok(Recorded { entry, raw_samples })
    };
    (1..).zip(rows).map(recorded).collect()
}

/// Raw samples as base64 of the bytes that the logbook keeps, which is exact for every float there is.
mod packed {
    use super::samples;
    use crate::record::RawSamples;
    use base64::Engine;
    use base64::engine::general_purpose::STANDARD;
    use schemars::{Schema, SchemaGenerator, json_schema};
    use serde::de::Error;
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    pub(super) fn serialize<S: Serializer>(raw: &Option<RawSamples>, to: S) -> Result<S::Ok, S::Error> {
        raw.as_ref().map(|raw| STANDARD.encode(samples::encode(raw))).serialize(to)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<RawSamples>, D::Error> {
        let Some(text) = Option::<String>::deserialize(from)? else { return Ok(None) };
        let bytes = STANDARD.decode(text).map_err(D::Error::custom)?;
        samples::decode(&bytes).map(Some).map_err(D::Error::custom)
    }

    pub(super) fn schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "type": ["string", "null"], "contentEncoding": "base64", "pattern": "^([A-Za-z0-9+/]{4})*([A-Za-z0-9+/]{2}==|[A-Za-z0-9+/]{3}=)?$",
        })
    }
}
