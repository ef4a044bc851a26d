//! Setups kept on disk.
