//! Whether it is a server's certificate that the line does not accept, told by the types of those who looked at it.

use crate::Distrust;
use rustls::CertificateError as Fault;
use std::error::Error;
use std::io;

/// Why a certificate is not accepted, where an error of the line is that.
pub fn distrust(error: &(dyn Error + 'static)) -> Option<Distrust> {
    let rustls::Error::InvalidCertificate(fault) = tls(error)? else { return None };
    Some(match fault {
        Fault::NotValidForName | Fault::NotValidForNameContext { .. } => Distrust::OtherName,
        Fault::UnknownIssuer | Fault::BadSignature => Distrust::UnknownSigner,
        Fault::Expired | Fault::ExpiredContext { .. } => Distrust::Expired,
        Fault::NotValidYet | Fault::NotValidYetContext { .. } => Distrust::NotYetValid,
        Fault::Revoked => Distrust::Revoked,
        Fault::Other(other) => match other.0.downcast_ref() {
            Some(webpki::Error::CaUsedAsEndEntity) => Distrust::SelfSigned,
            _ => Distrust::Unusable,
        },
        _ => Distrust::Unusable,
    })
}

/// The fault of the encrypted line behind an error, if it is one.
fn tls<'e>(error: &'e (dyn Error + 'static)) -> Option<&'e rustls::Error> {
    // An input/output error has as its source what lies behind the error that it was made of.
    let inner = error.downcast_ref::<io::Error>().and_then(io::Error::get_ref);
    error.downcast_ref().or_else(|| match inner {
        Some(inner) => tls(inner),
        None => tls(error.source()?),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What a server of one's own cannot be made to show.
    #[test]
    fn every_fault_of_a_certificate_is_known_by_its_type_however_deep_it_lies() {
        let seen = |fault: rustls::Error| {
            let line = sqlx::Error::Io(io::Error::new(io::ErrorKind::InvalidData, fault.clone()));
            let at_once = sqlx::Error::Tls(fault.into());
            assert_eq!(distrust(&line), distrust(&at_once));
            distrust(&line)
        };
        for (fault, expected) in [
            (Fault::NotValidYet, Distrust::NotYetValid),
            (Fault::Revoked, Distrust::Revoked),
            (Fault::BadEncoding, Distrust::Unusable),
            (Fault::Other(rustls::OtherError(std::sync::Arc::new(webpki::Error::BadDer))), Distrust::Unusable),
        ] {
            assert_eq!(seen(rustls::Error::InvalidCertificate(fault)), Some(expected));
        }
        assert_eq!(seen(rustls::Error::HandshakeNotComplete), None);
        assert_eq!(distrust(&sqlx::Error::Tls("certificate expired".into())), None, "words say nothing");
        assert_eq!(distrust(&sqlx::Error::PoolTimedOut), None);
    }
}
