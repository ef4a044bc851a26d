//! The logbook: why it could not be read or written, what waits for it, and what is wrong with a document of a setup.

use super::{Face, Say};
use clinoblade_logbook::{
    BadUrl, Complaint, Damage, Delivery, Difference, Distrust, DocumentError, LogbookError, MOST_DEGREES, MOST_LETTERS,
    Part, Refused, SamplesError, Site, Wanted,
};
use std::error::Error;

impl Say for LogbookError {
    fn say(&self, face: Face) -> String {
        let (said, command) = told(self);
        if face != Face::Terminal {
            return said;
        }
        let line = if command.is_empty() { said } else { format!("{said} {command}") };
        // What is wrong with samples is said already.
        match self.source().filter(|_| !matches!(self, Self::Samples { .. })) {
            Some(cause) => super::errors::because(&line, super::one_line(&cause.to_string())),
            None => line,
        }
    }
}

const ANOTHER: &str = "Or name another file with `--logbook FILE`.";

/// What happened and what to do; and what can be typed, for who sits at a terminal.
fn told(error: &LogbookError) -> (String, String) {
    use LogbookError as E;
    let alone = |said: String| (said, String::new());
    let or_another = |said: String| (said, ANOTHER.to_owned());
    match error {
        E::NoHome => {
            ("There is no home directory to keep the logbook in.".into(), "Name a file with `--logbook FILE`.".into())
        }
        E::NoName => ("The logbook has no name.".into(), "Name a file with `--logbook FILE`.".into()),
        E::Unwritable { what, letter } => {
            alone(format!("The {what} was not recorded: it holds {}. Write it without.", control(*letter)))
        }
        E::TooLong(what) => alone(format!(
            "The {what} was not recorded: it holds a text of more than {MOST_LETTERS} letters. Write less."
        )),
        E::NotAUrl => (
            "The name of the logbook looks like a URL, but is not one; it is not repeated here, in case it holds a password.".into(),
            "Write `--logbook postgres://USER@SERVER/DATABASE`, or `--logbook ./FILE` for a file.".into(),
        ),
        E::Scheme(scheme) => (format!("'{scheme}://…' is not a logbook."), "Name a file with `--logbook FILE`.".into()),
        E::BadUrl(why) => (
            format!("The URL of the shared logbook is not valid: {}.", bad_url(why)),
            "Write `--logbook postgres://USER@SERVER/DATABASE`, and the password in PGPASSWORD or in your password file.".into(),
        ),
        E::PasswordFile { path, most } => (
            format!(
                "The password file {} is not a file of at most {} MiB, so it is not read.",
                path.display(),
                most >> 20
            ),
            "Name another one in PGPASSFILE, or write the password in PGPASSWORD.".into(),
        ),
        E::ServerOutOfReach { server, .. } => alone(format!(
            "The shared logbook {server} cannot be reached, so nothing was recorded there. Is the server running, and is this \
             bench on its network?"
        )),
        E::ServerNotEncrypted { server, .. } => alone(format!(
            "The shared logbook {server} does not offer an encrypted line, so no password was sent and nothing was recorded there. \
             Ask the server's keeper to switch TLS on."
        )),
        E::ServerNotTrusted { server, why, .. } => {
            let (why, url) = distrust(*why);
            (
                format!("The certificate of the shared logbook {server} is not accepted, so nothing was sent: {why}"),
                url.into(),
            )
        }
        E::ServerRefuses { server, .. } => {
            alone(format!("The shared logbook {server} refuses access. Check user, password and database, and whether they \
                 may record there. Over a line that is not encrypted (`sslmode=disable`) no password is sent to another machine."))
        }
        E::Newer { site, found, known } => {
            let said = format!(
                "A newer version of clinoblade has written {} (layout {found}; this version reads up to {known}). Nothing was \
                 changed. Use the newer version.",
                place(site)
            );
            if matches!(site, Site::File(_)) { or_another(said) } else { alone(said) }
        }
        E::Damaged { site: site @ Site::File(_), damage } => or_another(format!(
            "{} is damaged: {}. Copy it, together with the files beside it whose names begin alike, and then restore a backup.",
            upper(&place(site)),
            damaged(damage)
        )),
        E::Damaged { site, damage } => alone(format!(
            "{} is damaged: {}. Its keeper has to restore a backup.",
            upper(&place(site)),
            damaged(damage)
        )),
        E::Busy(site @ Site::File(_)) => alone(format!(
            "Another program has held {} for more than five seconds. Nothing was recorded: close that program and repeat the \
             last step.",
            place(site)
        )),
        E::Busy(site) => alone(format!(
            "Another bench has held {} for more than five seconds. Nothing was recorded: repeat the last step.",
            place(site)
        )),
        E::Failed { site, .. } => alone(format!("{} failed. The last step was not recorded.", upper(&place(site)))),
        E::NotABackup(path) => alone(format!(
            "'{}' is there already, and is not an earlier backup of this logbook, or holds what this logbook does not. Nothing was \
             changed. Name another file.",
            path.display()
        )),
        E::KeptByServer(server) => alone(format!(
            "The shared logbook {server} is backed up on its server: ask its keeper (`pg_dump`). Single setups are copied with \
             `clinoblade export`."
        )),
        E::NoFolder(folder) => {
            or_another(format!("There is no folder '{}' for the logbook. Create it.", folder.display()))
        }
        E::IsFolder(path) => alone(format!(
            "'{}' is a folder, not a logbook. Name a file in it, such as '{}'.",
            path.display(),
            path.join("logbook.sqlite").display()
        )),
        E::NotUnicode(path) => {
            alone(format!("The logbook's name '{}' is not valid Unicode. Rename the file.", path.display()))
        }
        E::NotWritable(path) => or_another(format!(
            "The logbook '{}' cannot be written. Give yourself write access to the file and its folder.",
            path.display()
        )),
        E::NotALogbook(path) => or_another(format!(
            "'{}' is not a logbook of clinoblade, or its beginning is damaged. Nothing was changed.",
            path.display()
        )),
        E::Full(path) => alone(format!(
            "The disk with the logbook '{}' is full, so the last step was not recorded. Free some space and repeat it.",
            path.display()
        )),
        E::Gone(path) => or_another(format!(
            "The logbook '{}' is no longer where it was: it was removed, renamed or replaced while it was open. The last step was \
             not recorded. Put the file back.",
            path.display()
        )),
        E::Unreachable { path, .. } => alone(format!("The logbook '{}' cannot be opened.", path.display())),
        E::SharedNotBuilt => (
            "This clinoblade was built without the shared logbook.".into(),
            "Build it with `cargo install --path . --features shared-logbook`, or keep the setup in a file: `--logbook FILE`."
                .into(),
        ),
        E::NoSetup(setup) => {
            (format!("There is no setup {setup} in this logbook."), "`clinoblade setup list` shows the setups.".into())
        }
        E::NoOpenSetup => (
            "No setup is open.".into(),
            "Begin one with `clinoblade setup new`, or reopen one with `clinoblade setup resume NUMBER`.".into(),
        ),
        E::Closed(setup) => (
            format!("Setup {setup} is closed."),
            format!("Reopen it: `clinoblade setup resume {setup}`. Or begin another: `clinoblade setup new`."),
        ),
        E::ClosedElsewhere { setup, waiting } => (
            format!("Setup {setup} was closed at another bench while {} for it here.", wait(*waiting)),
            format!(
                "Reopen it with `clinoblade setup resume {setup}`, let them arrive, and close it again: `clinoblade setup close \
                 {setup}`."
            ),
        ),
        E::StillWaits { setup, waiting } => (
            format!(
                "Setup {setup} is still open: {} on this bench for the shared logbook. Close it when they have arrived.",
                wait(*waiting)
            ),
            format!("Then: `clinoblade setup close {setup}`."),
        ),
        E::NoSamples(capture) => alone(format!("No raw samples are kept for the capture {capture}.")),
        E::AlreadyRecorded { entry, setup } => {
            alone(format!("The entry {entry} is recorded in setup {setup} already."))
        }
        E::Different { setup, difference, .. } => (
            format!(
                "Nothing was imported: setup {setup} of this logbook is the same setup, but differs from the document in {}. Keep \
                 the right one.",
                differs(*difference)
            ),
            "To have both, import the document into another logbook: `clinoblade import FILE --logbook OTHER`.".into(),
        ),
        E::NotRecordable { what, .. } => {
            alone(format!("The {what} was not recorded: a value in it is not a number, or out of range."))
        }
        E::NotUnderstood { part, .. } => alone(format!(
            "{} in the logbook cannot be read: another version has written it, or it is damaged.",
            upper(&name(*part))
        )),
        E::Altered(part) => alone(format!(
            "{} in the logbook was changed on the disk after it was recorded. Copy the logbook and restore a backup; what can \
             still be read can be exported.",
            upper(&name(*part))
        )),
        E::Samples { entry, source } => {
            alone(format!("The raw samples of the capture {entry} cannot be read: {}.", samples(*source)))
        }
    }
}

/// Why a certificate is not accepted and what to do; and what can be written in the URL.
const fn distrust(why: Distrust) -> (&'static str, &'static str) {
    match why {
        Distrust::OtherName => (
            "it was made for another name. In the URL, name the server as its certificate does, or ask the server's keeper for a \
             certificate with the name you use.",
            "",
        ),
        Distrust::UnknownSigner => (
            "nobody this bench knows has signed it. Ask the server's keeper for the certificate of the authority that did.",
            "Name its file in the URL: `?sslrootcert=FILE`.",
        ),
        Distrust::SelfSigned => (
            "it is an authority's own certificate, or the server has signed it itself. Ask the server's keeper for a certificate \
             signed for this server.",
            "",
        ),
        Distrust::Expired => {
            ("it has expired. Check this bench's clock, then ask the server's keeper for a new one.", "")
        }
        Distrust::NotYetValid => {
            ("it is not valid yet. Check this bench's clock, then ask the server's keeper for a new one.", "")
        }
        Distrust::Revoked => ("it was revoked. Ask the server's keeper for a new one.", ""),
        Distrust::Unusable => ("it cannot be used. Ask the server's keeper for a new one.", ""),
    }
}

fn place(site: &Site) -> String {
    match site {
        Site::File(path) => format!("the logbook '{}'", path.display()),
        Site::Server(server) => format!("the shared logbook {server}"),
    }
}

pub(super) fn name(part: Part) -> String {
    match part {
        Part::Setup(setup) => format!("setup {setup}"),
        Part::Listed(setup) => format!("the line of setup {setup} in the list"),
        Part::Entry { setup, number } => format!("entry {number} of setup {setup}"),
        Part::Samples(capture) => format!("the set of raw samples of the capture {capture}"),
    }
}

fn damaged(damage: &Damage) -> String {
    match damage {
        Damage::LogAlone => "its write-ahead log is there, but the file itself is missing or empty".to_owned(),
        Damage::CutShort => "its end is missing".to_owned(),
        Damage::OtherTables(layout) => format!("its tables are not those of layout {layout}"),
        Damage::NoCount => "its count of setups is missing".to_owned(),
        Damage::Number(number) => format!("{number} stands where a number of a setup or entry belongs"),
        Damage::Time(microseconds) => format!("{microseconds} stands where a time belongs"),
        Damage::Altered => "it is not what was written".to_owned(),
        Damage::Layout(layout) => format!("a newer version has written it (layout {layout})"),
        Damage::Text(why) | Damage::Database(why) => why.clone(),
        Damage::Samples(error) => samples(*error),
    }
}

fn samples(error: SamplesError) -> String {
    match error {
        SamplesError::Version(layout) => format!("a newer version of clinoblade has written them (layout {layout})"),
        SamplesError::Marks(sample) => format!("sample {sample} is damaged"),
        SamplesError::Short(sample) => format!("they break off after sample {sample}"),
        SamplesError::Long(bytes) => format!("{bytes} bytes too many follow the last sample"),
    }
}

fn differs(difference: Difference) -> String {
    match difference {
        Difference::Setup => "what is said of the setup itself".to_owned(),
        Difference::Entry(number) => format!("entry {number}"),
        Difference::Samples(number) => format!("the raw samples of entry {number}"),
        Difference::Length { here, there } => format!("length: {here} entries here, {there} in the document"),
    }
}

fn control(letter: char) -> String {
    format!("the control character U+{:04X}", u32::from(letter))
}

fn bad_url(why: &BadUrl) -> &str {
    match why {
        BadUrl::Password => "in its password, '/' must be written %2F, '?' %3F and '#' %23",
        BadUrl::Other(why) => why,
    }
}

/// With a capital letter, to begin a sentence.
fn upper(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

/// How many entries wait: `1 entry waits`.
fn wait(entries: usize) -> String {
    if entries == 1 { "1 entry waits".to_owned() } else { format!("{entries} entries wait") }
}

/// How many entries wait, and for what.
pub(super) fn waiting(entries: usize) -> String {
    format!("{} on this bench for the shared logbook", wait(entries))
}

/// What waits on this bench for a shared logbook; none where nothing does.
#[must_use]
pub fn waits(entries: usize) -> Option<String> {
    (entries > 0).then(|| format!("{}; nothing is lost.", waiting(entries)))
}

impl Say for Delivery {
    /// What has arrived, and what cannot: a line each, none where there is nothing to say.
    fn say(&self, face: Face) -> String {
        let arrived = match self.arrived {
            0 => None,
            1 => Some("1 entry that waited on this bench has reached the shared logbook.".to_owned()),
            many => Some(format!("{many} entries that waited on this bench have reached the shared logbook.")),
        };
        let refused = self.refused.iter().map(|refused| refused.say(face));
        arrived.into_iter().chain(refused).collect::<Vec<_>>().join("\n")
    }
}

impl Say for Refused {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Damaged(file) => format!(
                "An entry that waits for the shared logbook is damaged and stays on this bench. Keep its file '{}', and capture \
                 again.",
                file.display()
            ),
            Self::NotTaken(error) => {
                format!("The shared logbook does not take an entry that waits on this bench. {}", error.say(face))
            }
        }
    }
}

impl Say for DocumentError {
    fn say(&self, face: Face) -> String {
        let command = |text: &str| if face == Face::Terminal { format!(" {text}") } else { String::new() };
        match self {
            Self::Damaged { line, column, ends } => {
                let how = if *ends { "breaks off" } else { "makes no sense" };
                format!(
                    "The document {how} at line {line}, column {column}, so nothing of it was imported. Export the setup again, or \
                     take another copy."
                )
            }
            Self::TooLarge => format!(
                "The document is larger than {} MiB, which no setup is. Nothing was imported: export the setup again.",
                Self::MOST_BYTES >> 20
            ),
            Self::Foreign => {
                format!("This is not an exported setup.{}", command("`clinoblade export --out FILE` writes one."))
            }
            Self::Newer(version) => format!(
                "This setup was exported in version {version} of the format, and this clinoblade reads up to version {}. Import it \
                 with the newer version.",
                Self::NEWEST
            ),
            Self::Field { path, what } => {
                format!(
                    "At {path}: {}. Nothing was imported: export the setup again, or correct the field.",
                    complaint(what)
                )
            }
        }
    }
}

fn complaint(what: &Complaint) -> String {
    match what {
        Complaint::Missing => "this field is missing".to_owned(),
        Complaint::NoSuchField => "there is no such field".to_owned(),
        Complaint::NoSuchWord { found, known } => format!("'{found}' is not known here; it can be {}", known.join(", ")),
        Complaint::OtherKind { found, wanted } => format!("{} belongs here, not {found}", kind(wanted)),
        Complaint::Refused(why) => why.clone(),
        Complaint::Letter(letter) => format!("the text holds {}", control(*letter)),
        Complaint::TooLong => format!("the text has more than {MOST_LETTERS} letters"),
        Complaint::Angle(degrees) => {
            format!("{degrees}° is no angle; it must lie between -{MOST_DEGREES}° and {MOST_DEGREES}°")
        }
        Complaint::Version => format!("this is not a version; write {}", DocumentError::NEWEST),
        Complaint::SameId(before) => format!("entries[{before}] has the same id"),
        Complaint::OtherId => "a capture has the id of its entry".to_owned(),
        Complaint::NoSuchCapture => "no capture in this document has this id".to_owned(),
        Complaint::NotSteady => "a capture that was not steady cannot be recorded".to_owned(),
        Complaint::Time(time) => format!("nobody can have measured at {time}"),
        Complaint::NoSuchBlade(blade) => format!("the helicopter in this document has no blade {blade}"),
        Complaint::Stick(stick) => format!("a stick stands between -100 % and 100 %, not at {stick}"),
        Complaint::NoSamples => "the samples are missing, but their checksum is there".to_owned(),
        Complaint::NotBase64 => "this is not base64".to_owned(),
        Complaint::Samples(error) => format!("these are not raw samples: {}", samples(*error)),
        Complaint::Checksum => {
            "this is not what was exported: the checksum beside it is another. To edit a document on purpose, delete its checksum"
                .to_owned()
        }
    }
}

fn kind(wanted: &Wanted) -> &str {
    match wanted {
        Wanted::Number => "a number",
        Wanted::Whole => "a whole number",
        Wanted::Text => "a text",
        Wanted::Bool => "true or false",
        Wanted::List => "a list",
        Wanted::Object => "an object with its fields",
        Wanted::Other(said) => said,
    }
}

#[cfg(test)]
#[path = "logbook_tests.rs"]
mod tests;
