//! JSON Schemas written by hand, for the types whose serde is written by hand or goes through a conversion: what serde
//! does there cannot be derived. They describe what is written, which is never wider than what is read.

/// Gives a type the schema that follows it.
#[macro_export]
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

/// Stands in a schema for a moment, which is written as RFC 3339 has it, in UTC.
#[derive(Debug)]
pub struct Moment;

schema_by_hand!(Moment, { "type": "string", "format": "date-time", "description": "A moment, in UTC." });

/// Stands in a schema for a day of the calendar, written as ISO 8601 has it.
#[derive(Debug)]
pub struct Day;

schema_by_hand!(Day, { "type": "string", "format": "date", "description": "A day." });
