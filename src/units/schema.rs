//! What stands in a JSON Schema for a type of another crate.

use schemars::JsonSchema;

/// A moment, in UTC, written as RFC 3339 has it.
#[derive(Debug, JsonSchema)]
#[schemars(with = "String", extend("format" = "date-time"))]
pub struct Moment;

/// A day of the calendar, written as ISO 8601 has it.
#[derive(Debug, JsonSchema)]
#[schemars(with = "String", extend("format" = "date"))]
pub struct Day;
