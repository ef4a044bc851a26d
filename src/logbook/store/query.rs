//! One text of SQL with its values, for either engine.
//!
//! What is asked of a logbook is written once: `$1` stands for the first value in both engines, and only what both
//! understand is used. Numbers are `i64`, as both keep them.

use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Sqlite};
#[cfg(feature = "shared")]
use sqlx::{Postgres, postgres::PgRow};

/// A value in a query.
#[derive(Debug, Clone)]
pub(crate) enum Value {
    /// A whole number, or none.
    Whole(Option<i64>),
    /// Text.
    Text(String),
    /// Bytes.
    Bytes(Vec<u8>),
}

impl From<i64> for Value {
    fn from(number: i64) -> Self {
        Self::Whole(Some(number))
    }
}

impl From<Option<i64>> for Value {
    fn from(number: Option<i64>) -> Self {
        Self::Whole(number)
    }
}

impl From<u32> for Value {
    fn from(number: u32) -> Self {
        Self::Whole(Some(i64::from(number)))
    }
}

impl From<&str> for Value {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

impl From<String> for Value {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<Vec<u8>> for Value {
    fn from(bytes: Vec<u8>) -> Self {
        Self::Bytes(bytes)
    }
}

/// A text of SQL with its values in order.
#[derive(Debug, Clone)]
pub(crate) struct Query {
    sql: &'static str,
    values: Vec<Value>,
}

impl Query {
    pub const fn new(sql: &'static str) -> Self {
        Self { sql, values: Vec::new() }
    }

    #[must_use]
    pub fn with(mut self, value: impl Into<Value>) -> Self {
        self.values.push(value.into());
        self
    }
}

/// A row that comes out of either engine; a tuple of numbers, texts and bytes is one.
#[cfg(feature = "shared")]
pub(crate) trait Row: for<'r> FromRow<'r, SqliteRow> + for<'r> FromRow<'r, PgRow> + Send + Unpin {}

#[cfg(feature = "shared")]
impl<T> Row for T where T: for<'r> FromRow<'r, SqliteRow> + for<'r> FromRow<'r, PgRow> + Send + Unpin {}

/// A row; a tuple of numbers, texts and bytes is one.
#[cfg(not(feature = "shared"))]
pub(crate) trait Row: for<'r> FromRow<'r, SqliteRow> + Send + Unpin {}

#[cfg(not(feature = "shared"))]
impl<T> Row for T where T: for<'r> FromRow<'r, SqliteRow> + Send + Unpin {}

macro_rules! bound {
    ($query:expr, $values:expr) => {
        $values.into_iter().fold($query, |query, value| match value {
            Value::Whole(number) => query.bind(number),
            Value::Text(text) => query.bind(text),
            Value::Bytes(bytes) => query.bind(bytes),
        })
    };
}

macro_rules! engine {
    ($name:ident, $engine:ident) => {
        /// The queries of one engine.
        pub(super) mod $name {
            use super::{Query, Row, Value, $engine};

            pub async fn execute<'c>(
                query: Query,
                on: impl sqlx::Executor<'c, Database = $engine>,
            ) -> Result<u64, sqlx::Error> {
                let done = bound!(sqlx::query::<$engine>(query.sql), query.values).execute(on).await?;
                Ok(done.rows_affected())
            }

            pub async fn row<'c, T: Row>(
                query: Query,
                on: impl sqlx::Executor<'c, Database = $engine>,
            ) -> Result<Option<T>, sqlx::Error> {
                bound!(sqlx::query_as::<$engine, T>(query.sql), query.values).fetch_optional(on).await
            }

            pub async fn rows<'c, T: Row>(
                query: Query,
                on: impl sqlx::Executor<'c, Database = $engine>,
            ) -> Result<Vec<T>, sqlx::Error> {
                bound!(sqlx::query_as::<$engine, T>(query.sql), query.values).fetch_all(on).await
            }
        }
    };
}

engine!(sqlite, Sqlite);
#[cfg(feature = "shared")]
engine!(postgres, Postgres);
