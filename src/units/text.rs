//! Types that a document holds as their text.

/// The conversions from and to a `String` of a type that is parsed and displayed, for
/// `#[serde(try_from = "String", into = "String")]`.
#[macro_export]
macro_rules! as_text {
    ($type:ident) => {
        impl TryFrom<String> for $type {
            type Error = <Self as std::str::FromStr>::Err;
            fn try_from(text: String) -> Result<Self, Self::Error> {
                text.parse()
            }
        }

        impl From<$type> for String {
            fn from(value: $type) -> Self {
                value.to_string()
            }
        }
    };
}
