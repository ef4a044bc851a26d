//! The running session: one task owns the stream and answers requests.
