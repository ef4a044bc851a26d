//! What can be wrong with a field of a document, and JSON read so that it is told by type.

use crate::SamplesError;
use crate::rotor::BladeName;
use crate::units::Percent;
use jiff::Timestamp;
use serde::Deserializer;
use serde::de::value::{MapAccessDeserializer, MapDeserializer, SeqDeserializer};
use serde::de::{Error, Expected, IntoDeserializer, Unexpected, Visitor};
use serde_json::Value;
use std::fmt::{self, Display};

/// What is wrong with a field of a document.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Complaint {
    /// It is not there.
    #[error("missing")]
    Missing,
    /// There is no such field.
    #[error("unknown field")]
    NoSuchField,
    /// It is none of the words that can stand there.
    #[error("unknown word: {found}")]
    NoSuchWord {
        /// What is there.
        found: String,
        /// What can stand there.
        known: &'static [&'static str],
    },
    /// It is of another kind.
    #[error("{found}, not {wanted:?}")]
    OtherKind {
        /// What is there, such as `string "x"`.
        found: String,
        /// What belongs there.
        wanted: Wanted,
    },
    /// What the type that it becomes says about it.
    #[error("{0}")]
    Refused(String),
    /// A text with a letter that no person writes.
    #[error("control character: {0:?}")]
    Letter(char),
    /// A text that is longer than any note.
    #[error("too long")]
    TooLong,
    /// An angle beyond all turns.
    #[error("no angle: {0}")]
    Angle(f64),
    /// A version of the format that is none.
    #[error("not a version")]
    Version,
    /// The entry of this place, from 0, has the same id.
    #[error("same id: {0}")]
    SameId(usize),
    /// A capture under another id than its entry.
    #[error("not its entry's")]
    OtherId,
    /// No capture of the document has this id.
    #[error("unknown capture")]
    NoSuchCapture,
    /// A capture that was never steady, or has no angle.
    #[error("not steady")]
    NotSteady,
    /// A time at which nobody can have measured.
    #[error("implausible time: {0}")]
    Time(Timestamp),
    /// The head in the document has no such blade.
    #[error("no blade {0}")]
    NoSuchBlade(BladeName),
    /// A stick that stands beyond its ends.
    #[error("stick at {0}")]
    Stick(Percent),
    /// Samples are missing whose checksum is there.
    #[error("no samples")]
    NoSamples,
    /// Samples that are no base64.
    #[error("not base64")]
    NotBase64,
    /// Bytes that are no samples.
    #[error("samples: {0}")]
    Samples(SamplesError),
    /// It does not fit the checksum beside it.
    #[error("other checksum")]
    Checksum,
}

/// What belongs in a field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Wanted {
    /// A number.
    Number,
    /// A whole number.
    Whole,
    /// A text.
    Text,
    /// True or false.
    Bool,
    /// A list.
    List,
    /// An object with its fields.
    Object,
    /// What its type says.
    Other(String),
}

impl From<&dyn Expected> for Wanted {
    fn from(expected: &dyn Expected) -> Self {
        // As the types of the language and of serde call themselves.
        match expected.to_string().as_str() {
            "f64" => Self::Number,
            "u8" | "u32" | "u64" | "i32" | "usize" => Self::Whole,
            "a string" | "string" => Self::Text,
            "a boolean" => Self::Bool,
            "a sequence" => Self::List,
            other if other.starts_with("struct ") || other.starts_with("map") => Self::Object,
            other => Self::Other(other.to_owned()),
        }
    }
}

/// What is wrong with a value, or with the field of it that is named.
#[derive(Debug)]
pub(super) struct Fault {
    pub what: Complaint,
    pub field: Option<&'static str>,
}

impl From<Complaint> for Fault {
    fn from(what: Complaint) -> Self {
        Self { what, field: None }
    }
}

impl Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.what.fmt(f)
    }
}

impl std::error::Error for Fault {}

impl Error for Fault {
    fn custom<T: Display>(said: T) -> Self {
        Complaint::Refused(said.to_string()).into()
    }

    fn invalid_type(found: Unexpected<'_>, wanted: &dyn Expected) -> Self {
        let found = if found == Unexpected::Unit { "null".to_owned() } else { found.to_string() };
        Complaint::OtherKind { found, wanted: wanted.into() }.into()
    }

    fn invalid_value(found: Unexpected<'_>, wanted: &dyn Expected) -> Self {
        Self::invalid_type(found, wanted)
    }

    fn unknown_variant(found: &str, known: &'static [&'static str]) -> Self {
        Complaint::NoSuchWord { found: found.to_owned(), known }.into()
    }

    fn unknown_field(_: &str, _: &'static [&'static str]) -> Self {
        Complaint::NoSuchField.into()
    }

    fn missing_field(field: &'static str) -> Self {
        Self { what: Complaint::Missing, field: Some(field) }
    }
}

/// A value of a document on its way to its type.
#[derive(Clone, Copy)]
pub(super) struct Given<'v>(pub &'v Value);

impl<'v> IntoDeserializer<'v, Fault> for Given<'v> {
    type Deserializer = Self;

    fn into_deserializer(self) -> Self {
        self
    }
}

impl<'de> Deserializer<'de> for Given<'de> {
    type Error = Fault;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Fault> {
        match self.0 {
            Value::Null => visitor.visit_unit(),
            Value::Bool(is) => visitor.visit_bool(*is),
            Value::Number(number) => match (number.as_u64(), number.as_i64(), number.as_f64()) {
                (Some(whole), ..) => visitor.visit_u64(whole),
                (_, Some(whole), _) => visitor.visit_i64(whole),
                (.., number) => visitor.visit_f64(number.unwrap_or(f64::NAN)),
            },
            Value::String(text) => visitor.visit_borrowed_str(text),
            Value::Array(values) => {
                let mut values = SeqDeserializer::new(values.iter().map(Given));
                let read = visitor.visit_seq(&mut values)?;
                values.end().map(|()| read)
            }
            Value::Object(fields) => {
                let mut fields = MapDeserializer::new(named(fields));
                let read = visitor.visit_map(&mut fields)?;
                fields.end().map(|()| read)
            }
        }
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Fault> {
        if self.0.is_null() { visitor.visit_none() } else { visitor.visit_some(self) }
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(self, _: &'static str, visitor: V) -> Result<V::Value, Fault> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Fault> {
        match self.0 {
            Value::String(variant) => visitor.visit_enum(variant.as_str().into_deserializer()),
            Value::Object(fields) if fields.len() == 1 => {
                visitor.visit_enum(MapAccessDeserializer::new(MapDeserializer::new(named(fields))))
            }
            _ => self.deserialize_any(visitor),
        }
    }

    serde::forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf unit unit_struct seq tuple
        tuple_struct map struct identifier ignored_any
    }
}

fn named(fields: &serde_json::Map<String, Value>) -> impl Iterator<Item = (&str, Given<'_>)> {
    fields.iter().map(|(name, value)| (name.as_str(), Given(value)))
}
