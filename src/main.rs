//! The program: everything it does stands in the library.

fn main() {}
