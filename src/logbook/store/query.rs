//! One text of SQL with its values, for either engine.
//!
//! What is asked of a logbook is written once: `$1` stands for the first value in both engines, and only what both
//! understand is used. Numbers are `i64`, as both keep them.

/// A value in a query.
#[derive(Debug, Clone)]
pub enum Value {
    /// A whole number, or none.
    Whole(Option<i64>),
    /// Text.
    Text(String),
    /// Bytes.
    Bytes(Vec<u8>),
}

macro_rules! values {
    ($($given:ident: $type:ty => $value:expr;)+) => {
        $(impl From<$type> for Value {
            fn from($given: $type) -> Self {
                $value
            }
        })+
    };
}

values! {
    number: i64 => Self::Whole(Some(number));
    number: Option<i64> => Self::Whole(number);
    number: u32 => Self::Whole(Some(i64::from(number)));
    text: &str => Self::Text(text.to_owned());
    text: String => Self::Text(text);
    bytes: Vec<u8> => Self::Bytes(bytes);
}

/// A text of SQL with its values in order.
#[derive(Debug, Clone)]
pub struct Query {
    pub sql: &'static str,
    pub values: Vec<Value>,
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
