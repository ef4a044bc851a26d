//! The program: everything it does stands in the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    clinoblade::cli::main(std::env::args_os().collect())
}
