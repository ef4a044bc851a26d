//! The manual pages, one for the program and one a command, from the program's own command line.

use clap::Command;
use clap_mangen::Man;
use clap_mangen::roff::{Roff, bold, roman};
use std::fs;
use std::path::{Path, PathBuf};

/// The section of the manual for what a user runs (man-pages(7)).
const SECTION: &str = "1";

/// Writes the pages into a folder and gives their paths.
///
/// # Errors
/// When a file cannot be written.
pub fn write(folder: &Path) -> Result<Vec<PathBuf>, String> {
    fs::create_dir_all(folder).map_err(|error| format!("{}: {error}", folder.display()))?;
    pages()
        .into_iter()
        .map(|(name, page)| {
            let path = folder.join(name);
            fs::write(&path, page).map_err(|error| format!("{}: {error}", path.display()))?;
            Ok(path)
        })
        .collect()
}

/// File name and text of each page, in the order of the commands.
#[must_use]
pub fn pages() -> Vec<(String, Vec<u8>)> {
    // `help` is a command only in the terminal.
    let mut program = explained(clinoblade::cli::command().disable_help_subcommand(true));
    program.build();
    let mut pages = Vec::new();
    add(&program, None, &mut pages);
    pages
}

/// What the short help leaves out stands in the manual, as it does in the long help.
fn explained(command: Command) -> Command {
    command.mut_args(|argument| argument.hide_short_help(false)).mut_subcommands(explained)
}

/// A command's page and those of the commands below it.
fn add(command: &Command, above: Option<&str>, pages: &mut Vec<(String, Vec<u8>)>) {
    let name = command.get_display_name().unwrap_or_else(|| command.get_name());
    pages.push((format!("{name}.{SECTION}"), page(command, above)));
    for below in command.get_subcommands().filter(|below| !below.is_hide_set()) {
        add(below, Some(name), pages);
    }
}

/// Keeps each line that is indented, which is an example, as it stands: between `.nf` and `.fi` nothing is wrapped or spread.
fn as_they_stand(text: &str) -> String {
    let mut kept = String::new();
    let mut is_example = false;
    for line in text.lines() {
        if line.starts_with(' ') != is_example {
            is_example = !is_example;
            kept += if is_example { ".nf\n" } else { ".fi\n" };
        }
        kept += line;
        kept.push('\n');
    }
    kept + if is_example { ".fi\n" } else { "" }
}

/// One page, as man-pages(7) orders its sections.
fn page(command: &Command, above: Option<&str>) -> Vec<u8> {
    let source = format!("clinoblade {}", command.get_version().unwrap_or_default());
    let mut text = Vec::new();
    // Writing into memory does not fail.
    let _ = Man::new(command.clone()).section(SECTION).source(source).manual("clinoblade").render(&mut text);
    let text = String::from_utf8_lossy(&text).replace("\n.SH EXTRA\n", "\n.SH NOTES\n");
    // The version stands at the foot of the page already.
    let text = text.split("\n.SH VERSION\n").next().unwrap_or_default();
    let mut page = as_they_stand(text.trim_end()).into_bytes();
    if let Some(above) = above {
        let mut see = Roff::new();
        see.control("SH", ["SEE ALSO"]);
        see.text([bold(above), roman(format!("({SECTION})"))]);
        let _ = see.to_writer(&mut page);
    }
    page
}
