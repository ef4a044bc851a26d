//! The domain: head description, setup, capture, limit record, verdicts, stale cells.
