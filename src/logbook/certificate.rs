//! A server's certificate that this bench does not accept: why, and what to do about it.

use std::error::Error;
use std::fmt;

/// Why a server's certificate is not accepted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Distrust {
    /// It was made out to another name.
    OtherName,
    /// Nobody whom this bench knows has signed it.
    UnknownSigner,
    /// It holds no longer, or not yet.
    OutOfDate,
    /// Anything else.
    Other,
}

impl Distrust {
    /// From what the line says, where it says anything about a certificate.
    pub(super) fn of(error: &(dyn Error + 'static)) -> Option<Self> {
        let mut said = String::new();
        let mut cause = Some(error);
        while let Some(error) = cause {
            said += &error.to_string();
            cause = error.source();
        }
        let says = |words: &[&str]| words.iter().any(|word| said.contains(word));
        Some(match () {
            () if !says(&["certificate"]) => return None,
            () if says(&["not valid for name", "NotValidForName"]) => Self::OtherName,
            () if says(&["UnknownIssuer", "BadSignature", "CaUsedAsEndEntity"]) => Self::UnknownSigner,
            () if says(&["expired", "Expired", "not valid yet", "NotValidYet"]) => Self::OutOfDate,
            () => Self::Other,
        })
    }
}

impl fmt::Display for Distrust {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::OtherName => {
                "it is made out to another name. Write the server in the URL by the name that stands in its certificate, or \
                 have the keeper of the server make one for the name that you use"
            }
            Self::UnknownSigner => {
                "nobody whom this bench knows has signed it. Get the certificate of the authority that did from the keeper of \
                 the server, and name its file in the URL: sslrootcert=FILE"
            }
            Self::OutOfDate => {
                "it holds no longer, or not yet. See that the clock of this bench is right, then ask the keeper of the server \
                 for a new one"
            }
            Self::Other => "it does not hold. Ask the keeper of the server for a new one",
        })
    }
}
