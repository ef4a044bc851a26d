//! `clinoblade-packaging PROJECT FOLDER`: writes the manual pages into `FOLDER/man1` and the licences into `FOLDER`.

use clinoblade_packaging::{licences, manual};
use std::path::PathBuf;
use std::process::ExitCode;

fn main() -> ExitCode {
    match write() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("clinoblade-packaging: {error}");
            ExitCode::FAILURE
        }
    }
}

fn write() -> Result<(), String> {
    let [project, folder]: [PathBuf; 2] = std::env::args_os()
        .skip(1)
        .map(PathBuf::from)
        .collect::<Vec<_>>()
        .try_into()
        .map_err(|_| "usage: clinoblade-packaging PROJECT FOLDER".to_owned())?;
    let pages = manual::write(&folder.join("man1"))?;
    let collected = licences::write(&project, &folder)?;
    println!("{} manual pages, the licences of {} crates", pages.len(), collected.crates);
    for name in collected.without_text {
        println!("{name}: published without a licence text, which is named instead");
    }
    Ok(())
}
