//! JSON Schemas written by hand, for the types whose serde is written by hand or goes through a conversion: what serde
//! does there cannot be derived. They describe what is written, which is never wider than what is read.

/// Gives a type the schema that follows it.
macro_rules! schema_by_hand {
    ($type:ident, $($schema:tt)+) => {
        impl schemars::JsonSchema for $type {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                stringify!($type).into()
            }

            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                schemars::json_schema!($($schema)+)
            }
        }
    };
}

pub(crate) use schema_by_hand;

/// A moment as it is written in a document: RFC 3339, in UTC.
pub(crate) fn moment(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
    schemars::json_schema!({ "type": "string", "format": "date-time" })
}

/// The same, or none.
pub(crate) fn moment_or_none(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
    schemars::json_schema!({ "type": ["string", "null"], "format": "date-time" })
}
