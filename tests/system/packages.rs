//! The package as it is installed: `.ci/package` packs the program under test, dpkg installs it into a fresh root, and what lies
//! there is started, read and removed. Needs neither root nor a network. Without dpkg only the tree of the tar.gz is looked at.

use clinoblade_packaging::packages::{Package, linked};
use clinoblade_packaging::{licences, manual};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::OnceLock;
use support::place::{kept, program, project};

/// Where the packages lie, built once, also where each test is a process of its own.
fn built() -> &'static Path {
    static BUILT: OnceLock<PathBuf> = OnceLock::new();
    BUILT.get_or_init(|| {
        let folder = kept("package");
        let lock = File::create(folder.join("lock")).unwrap();
        lock.lock().unwrap();
        let (pages, out) = (folder.join("pages"), folder.join("out"));
        let _ = fs::remove_dir_all(&pages);
        manual::write(&pages.join("man1")).unwrap();
        licences::write(&project(""), &pages).unwrap();
        let mut script = Command::new(project(".ci/package"));
        script.env("PACKAGE_PROGRAM", program()).env("PACKAGE_PAGES", &pages).env("PACKAGE_OUT", &out);
        done(&mut script);
        out
    })
}

/// The one file or folder in there whose name ends so.
fn one(folder: &Path, begin: &str, end: &str) -> Option<PathBuf> {
    let names = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut fitting: Vec<PathBuf> = names
        .filter(|path| {
            let name = path.file_name().unwrap().to_str().unwrap();
            name.starts_with(begin) && name.ends_with(end)
        })
        .collect();
    assert!(fitting.len() < 2, "{fitting:?}");
    fitting.pop()
}

/// What the program is in a tree that lies below `/usr`.
struct Tree {
    /// It goes with the test.
    _scratch: tempfile::TempDir,
    usr: PathBuf,
}

impl Tree {
    /// The tar.gz, unpacked.
    fn unpacked() -> Self {
        let scratch = tempfile::tempdir().unwrap();
        let archive = one(built(), "clinoblade-", ".tar.gz").unwrap();
        done(Command::new("tar").arg("-C").arg(scratch.path()).arg("-xzf").arg(archive));
        let usr = one(scratch.path(), "clinoblade-", "").unwrap();
        Self { _scratch: scratch, usr }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.usr.join(name)
    }

    fn text(&self, name: &str) -> String {
        let path = self.path(name);
        fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
    }

    /// What a packed file says.
    fn unzipped(&self, name: &str) -> String {
        said(Command::new("gzip").arg("-dc").arg(self.path(name)))
    }

    fn run(&self, arguments: &[&str]) -> String {
        said(Command::new(self.path("bin/clinoblade")).args(arguments).env("COLUMNS", "100"))
    }
}

fn done(command: &mut Command) -> Output {
    let output = command.stdin(Stdio::null()).output().unwrap_or_else(|error| panic!("{command:?}: {error}"));
    let both = [&output.stdout[..], &output.stderr[..]].concat();
    assert!(output.status.success(), "{command:?}: {}\n{}", output.status, String::from_utf8_lossy(&both));
    output
}

fn said(command: &mut Command) -> String {
    String::from_utf8(done(command).stdout).unwrap()
}

/// Whether a program is on this machine; if it is not, what is left out is printed.
fn has(program: &str, left_out: &str) -> bool {
    let found =
        std::env::var_os("PATH").is_some_and(|path| std::env::split_paths(&path).any(|at| at.join(program).is_file()));
    if !found {
        println!("LEFT OUT: {left_out}, since there is no {program} here");
    }
    found
}

/// Everything below a folder, by its path in it.
fn everything_below(folder: &Path) -> BTreeSet<PathBuf> {
    let (mut found, mut waiting) = (BTreeSet::new(), vec![folder.to_owned()]);
    while let Some(next) = waiting.pop() {
        for entry in fs::read_dir(next).unwrap().map(|entry| entry.unwrap().path()) {
            if entry.is_dir() {
                waiting.push(entry.clone());
            }
            found.insert(entry.strip_prefix(folder).unwrap().to_owned());
        }
    }
    found
}

/// dpkg with a root and a list of packages of its own: nothing of the machine's is touched.
struct Dpkg {
    root: tempfile::TempDir,
    admin: tempfile::TempDir,
}

impl Dpkg {
    /// An empty root in which these packages count as installed, in the versions that this machine has.
    fn with(installed: &[&str]) -> Self {
        let [root, admin] = [(); 2].map(|()| tempfile::tempdir().unwrap());
        for folder in ["updates", "info", "triggers"] {
            fs::create_dir(admin.path().join(folder)).unwrap();
        }
        let status = said(Command::new("dpkg-query").arg("--status").args(installed));
        fs::write(admin.path().join("status"), status).unwrap();
        fs::write(admin.path().join("available"), "").unwrap();
        Self { root, admin }
    }

    fn command(&self) -> Command {
        let mut command = Command::new("dpkg");
        let path = std::env::var("PATH").unwrap_or_default();
        command
            .env("PATH", format!("{path}:/usr/sbin:/sbin"))
            .env("LC_ALL", "C")
            .arg(format!("--instdir={}", self.root.path().display()))
            .arg(format!("--admindir={}", self.admin.path().display()))
            .arg(format!("--log={}", self.admin.path().join("log").display()))
            // A machine without manuals leaves them out of what it installs.
            .args(["--force-not-root", "--path-include=*"]);
        command
    }

    fn state(&self) -> Option<String> {
        let admin = format!("--admindir={}", self.admin.path().display());
        let output = Command::new("dpkg-query").args([&admin, "-W", "-f=${Status}", "clinoblade"]).output().unwrap();
        output.status.success().then(|| String::from_utf8(output.stdout).unwrap())
    }
}

#[test]
fn the_package_installs_into_a_fresh_root_starts_and_goes_without_a_trace() {
    if !has("dpkg", "installing the Debian package") {
        return;
    }
    let package = one(built(), "clinoblade_", ".deb").expect("a Debian package where there is dpkg");
    let needed = said(Command::new("dpkg-deb").args(["-f"]).arg(&package).arg("Depends"));
    let needed: Vec<&str> = needed.trim().split(", ").map(|one| one.split(' ').next().unwrap()).collect();
    assert!(needed.iter().all(|name| ["libc6", "libgcc-s1"].contains(name)), "no more than a C library: {needed:?}");
    let dpkg = Dpkg::with(&needed);
    let before = everything_below(dpkg.root.path());

    done(dpkg.command().arg("--install").arg(&package));
    assert_eq!(dpkg.state().as_deref(), Some("install ok installed"));
    let usr = dpkg.root.path().join("usr");
    // The same tree as that of the tar.gz, to the last file.
    assert_eq!(everything_below(&usr), everything_below(&Tree::unpacked().usr));
    assert_eq!(fs::read_dir(dpkg.root.path()).unwrap().count(), 1, "nothing beside /usr");
    let installed = said(Command::new(usr.join("bin/clinoblade")).arg("--version"));
    assert_eq!(installed.trim(), format!("clinoblade {}", env!("CARGO_PKG_VERSION")));
    let help = said(Command::new(usr.join("bin/clinoblade")).args(["demo", "--help"]));
    assert!(help.contains("--autoplay"), "{help}");
    assert_eq!(
        said(dpkg.command().args(["--verify", "clinoblade"])),
        "",
        "every file has the sum that the package names"
    );

    done(dpkg.command().args(["--purge", "clinoblade"]));
    assert_eq!((dpkg.state(), everything_below(dpkg.root.path())), (None, before));
    let left: Vec<_> =
        everything_below(dpkg.admin.path()).into_iter().filter(|path| path.starts_with("info")).collect();
    assert!(!left.iter().any(|path| path.to_string_lossy().contains("clinoblade")), "{left:?}");
}

/// What is not there is not installed beside it: the package says what it needs, and dpkg holds it to that.
#[test]
fn without_a_c_library_the_package_is_refused() {
    if !has("dpkg", "refusing the Debian package") {
        return;
    }
    let dpkg = Dpkg::with(&["dpkg"]);
    let package = one(built(), "clinoblade_", ".deb").unwrap();
    let output = dpkg.command().arg("--install").arg(package).output().unwrap();
    let why = String::from_utf8_lossy(&output.stderr);
    assert!(!output.status.success() && why.contains("clinoblade depends on libc6"), "{why}");
}

#[test]
fn the_whole_tree_belongs_to_root_and_only_the_program_is_executable() {
    if !has("dpkg-deb", "looking into the Debian package") {
        return;
    }
    let package = one(built(), "clinoblade_", ".deb").unwrap();
    let listed = said(Command::new("dpkg-deb").arg("--contents").arg(package));
    for line in listed.lines() {
        let mode = match line.split_whitespace().last().unwrap() {
            "./usr/bin/clinoblade" => "-rwxr-xr-x root/root",
            folder if folder.ends_with('/') => "drwxr-xr-x root/root",
            _ => "-rw-r--r-- root/root",
        };
        assert!(line.starts_with(mode), "{line}");
    }
    assert!(listed.lines().count() > 40, "{listed}");
}

/// The commands that `clinoblade COMMAND --help` knows, as names of pages.
fn commands(tree: &Tree, above: &[&str]) -> Vec<String> {
    let help = tree.run(&[above, &["--help"]].concat());
    let listed = help.split("\nCommands:\n").nth(1).map_or("", |rest| rest.split("\n\n").next().unwrap());
    let names = listed.lines().filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    let names: Vec<&str> =
        names.map(|line| line.split_whitespace().next().unwrap()).filter(|name| *name != "help").collect();
    let below = names.iter().flat_map(|name| commands(tree, &[above, &[name]].concat()));
    let own = ["clinoblade"].iter().chain(above).copied().collect::<Vec<_>>().join("-");
    [own].into_iter().chain(below).collect()
}

#[test]
fn there_is_a_page_for_the_program_and_for_each_command_that_its_help_names() {
    let tree = Tree::unpacked();
    let expected: BTreeSet<PathBuf> =
        commands(&tree, &[]).iter().map(|name| PathBuf::from(format!("{name}.1.gz"))).collect();
    for name in ["clinoblade", "clinoblade-bench", "clinoblade-sensor-calibrate-tumble"] {
        assert!(expected.contains(Path::new(&format!("{name}.1.gz"))), "{name} is not in {expected:?}");
    }
    assert_eq!(everything_below(&tree.path("share/man/man1")), expected);
    for page in &expected {
        let page = format!("share/man/man1/{}", page.display());
        let source = tree.unzipped(&page);
        let sections: Vec<&str> = source.lines().filter_map(|line| line.strip_prefix(".SH ")).collect();
        assert_eq!(sections.get(..3), Some(&["NAME", "SYNOPSIS", "DESCRIPTION"][..]), "{page}");
        let title = source.lines().find(|line| line.starts_with(".TH ")).expect("a title");
        assert!(title.contains(&format!("\"clinoblade {}\"", env!("CARGO_PKG_VERSION"))), "{page}: {title}");
    }
}

#[test]
fn the_pages_are_shown_by_man_and_it_finds_nothing_wrong_with_them() {
    if !has("man", "showing the manual pages") {
        return;
    }
    let tree = Tree::unpacked();
    let man = |page: &str, more: &[&str]| {
        let page = tree.path(&format!("share/man/man1/{page}"));
        done(
            Command::new("man")
                .args(more)
                .arg("-l")
                .arg(page)
                .env("LC_ALL", "C.UTF-8")
                .env("MANWIDTH", "80")
                .env("MANPAGER", "cat"),
        )
    };
    let shown = |page: &str| {
        let text = String::from_utf8(man(page, &["--encoding=UTF-8"]).stdout).unwrap();
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let capture = shown("clinoblade-capture.1.gz");
    for part in
        ["NAME clinoblade-capture - Record one axis direction", "SYNOPSIS clinoblade capture", "--station", "SEE ALSO"]
    {
        assert!(capture.contains(part), "no '{part}' in {capture}");
    }
    // What the short help leaves out is explained here.
    assert!(capture.contains("--stick <PERCENT> Stick position"), "{capture}");
    // An example keeps a line of its own.
    let lines = String::from_utf8(man("clinoblade-capture.1.gz", &["--encoding=UTF-8"]).stdout).unwrap();
    let example = "clinoblade capture aileron left --bound               (the linkage binds here)";
    assert!(lines.lines().any(|line| line.trim() == example), "{lines}");
    let program = shown("clinoblade.1.gz");
    assert!(program.contains("clinoblade-bench(1) Open the bench page"), "{program}");
    assert!(program.contains("disconnect the motor"), "the cautions: {program}");
    for page in everything_below(&tree.path("share/man/man1")) {
        let output = man(page.to_str().unwrap(), &["--warnings", "-E", "UTF-8", "-Tutf8", "-Z"]);
        assert_eq!(String::from_utf8_lossy(&output.stderr), "", "{}", page.display());
    }
}

#[test]
fn the_completions_are_read_by_their_shells_and_complete() {
    let tree = Tree::unpacked();
    let bash = tree.path("share/bash-completion/completions/clinoblade");
    let zsh = tree.path("share/zsh/vendor-completions/_clinoblade");
    let fish = tree.path("share/fish/vendor_completions.d/clinoblade.fish");
    assert!(fs::read_to_string(&zsh).unwrap().starts_with("#compdef clinoblade"));
    assert!(fs::read_to_string(&fish).unwrap().contains("complete -c clinoblade"));
    if has("bash", "the completion for bash") {
        let offered = |words: &str| {
            let script = format!(
                "source {}; COMP_WORDS=({words}); COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1)); \
                 _clinoblade clinoblade \"${{COMP_WORDS[-1]}}\" \"${{COMP_WORDS[-2]}}\"; echo \"${{COMPREPLY[*]}}\"",
                bash.display()
            );
            said(Command::new("bash").args(["--norc", "-c", &script])).trim().to_owned()
        };
        assert_eq!(offered("clinoblade sen"), "sensor");
        assert_eq!(offered("clinoblade capture --leading"), "--leading-edge");
        assert_eq!(offered("clinoblade nothing-of-ours"), "");
    }
    if has("zsh", "the completion for zsh") {
        done(Command::new("zsh").arg("-n").arg(&zsh));
    }
    if has("fish", "the completion for fish") {
        let script = format!("source {}; complete -C 'clinoblade sen'", fish.display());
        let home = tempfile::tempdir().unwrap();
        let offered = said(Command::new("fish").args(["--no-config", "-c", &script]).env("HOME", home.path()));
        assert!(offered.starts_with("sensor\t"), "{offered}");
    }
}

/// Keys and values of each group of a desktop entry (Desktop Entry Specification 1.5).
fn groups(entry: &str) -> BTreeMap<&str, BTreeMap<&str, &str>> {
    let mut groups: BTreeMap<&str, BTreeMap<&str, &str>> = BTreeMap::new();
    let mut now = "";
    for line in entry.lines().filter(|line| !line.is_empty() && !line.starts_with('#')) {
        if let Some(name) = line.strip_prefix('[').and_then(|rest| rest.strip_suffix(']')) {
            now = name;
        } else {
            let (key, value) = line.split_once('=').unwrap_or_else(|| panic!("{line} is no key"));
            assert!(groups.entry(now).or_default().insert(key, value).is_none(), "{key} twice");
        }
    }
    groups
}

#[cfg(target_os = "linux")]
#[test]
fn the_desktop_entry_opens_the_page_and_keeps_what_went_wrong_on_the_screen() {
    let tree = Tree::unpacked();
    let entry = tree.text("share/applications/clinoblade.desktop");
    let groups = groups(&entry);
    let main = &groups["Desktop Entry"];
    let of = |key: &str| main.get(key).copied();
    assert_eq!((of("Type"), of("Name"), of("Terminal")), (Some("Application"), Some("clinoblade"), Some("true")));
    assert!(tree.path("bin").join(main["TryExec"]).is_file());
    let icon = tree.text(&format!("share/icons/hicolor/scalable/apps/{}.svg", main["Icon"]));
    assert!(icon.contains("<svg xmlns=\"http://www.w3.org/2000/svg\""), "{icon}");
    assert!(main["Categories"].ends_with(';') && main["Keywords"].ends_with(';'));
    for action in main["Actions"].split_terminator(';') {
        assert!(groups.contains_key(format!("Desktop Action {action}").as_str()), "{action}");
    }
    if has("desktop-file-validate", "the validation of the desktop entry") {
        let path = tree.path("share/applications/clinoblade.desktop");
        assert_eq!(said(Command::new("desktop-file-validate").arg(path)), "");
    }
    // As a desktop starts it, where the page cannot open: the reason stays until Enter is pressed.
    let shell =
        main["Exec"].strip_prefix("sh -c \"").and_then(|rest| rest.strip_suffix('"')).expect("a line for the shell");
    assert!(!shell.contains(['"', '`', '$', '\\', '%']), "nothing that the entry would have to escape: {shell}");
    let home = tempfile::tempdir().unwrap();
    let path = format!("{}:{}", tree.path("bin").display(), std::env::var("PATH").unwrap());
    let mut started = Command::new("sh")
        .args(["-c", shell])
        .env("PATH", path)
        .env("HOME", home.path())
        .env("XDG_DATA_HOME", home.path())
        .env("CLINOBLADE_LOGBOOK", home.path())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    started.stdin.as_mut().unwrap().write_all(b"\n").unwrap();
    let output = started.wait_with_output().unwrap();
    let (told, why) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert!(told.contains("Press Enter to close") && why.contains("is a folder, not a logbook"), "{told}\n{why}");
}

/// Keys and order as udev(7) has them; what comes after 73 is too late for the tag to be acted on.
#[cfg(target_os = "linux")]
#[test]
fn the_rule_for_adapters_tags_ttys_on_usb_alone_and_in_time() {
    let tree = Tree::unpacked();
    let rules = everything_below(&tree.path("lib/udev/rules.d"));
    let name = rules.first().and_then(|path| path.to_str()).unwrap();
    assert!(rules.len() == 1 && name < "73-seat-late.rules" && name > "50-udev-default.rules", "{rules:?}");
    let text = tree.text(&format!("lib/udev/rules.d/{name}"));
    let lines: Vec<Vec<(&str, &str)>> = text
        .lines()
        .filter(|line| !line.is_empty() && !line.starts_with('#'))
        .map(|line| {
            let parts = line.split(", ").map(|part| {
                let (key, value) = part.split_once('"').unwrap_or_else(|| panic!("{part}"));
                (key, value.strip_suffix('"').unwrap_or_else(|| panic!("{part}")))
            });
            parts.collect()
        })
        .collect();
    assert_eq!(
        lines,
        [
            vec![("ACTION==", "remove"), ("GOTO=", "clinoblade_end")],
            vec![("SUBSYSTEM==", "tty"), ("SUBSYSTEMS==", "usb"), ("TAG+=", "uaccess")],
            vec![("LABEL=", "clinoblade_end")],
        ]
    );
}

#[test]
fn every_crate_that_is_linked_is_listed_with_its_licence_and_its_text() {
    let tree = Tree::unpacked();
    let folder = "share/doc/clinoblade";
    let text = tree.unzipped(&format!("{folder}/licences-of-crates.txt.gz"));
    let linked = linked(&project(""), licences::FEATURES).unwrap();
    let names: BTreeSet<&str> = linked.iter().map(|package| package.name.as_str()).collect();
    // Some of each kind: what every sample passes, the database in C, the line to a shared logbook; and no macro.
    for name in ["memchr", "libsqlite3-sys", "rustls", "serialport", "clap"] {
        assert!(names.contains(name), "{name}");
    }
    for name in ["syn", "serde_derive", "cc", "proptest", "clap_mangen", "sqlx-mysql"] {
        assert!(!names.contains(name), "{name}");
    }
    let lines: Vec<&str> = text.lines().collect();
    for package in &linked {
        let head = format!("{} {}", package.name, package.version);
        let at = lines.iter().position(|line| *line == head).unwrap_or_else(|| panic!("no {head}"));
        let told = lines[at + 1].trim_start().strip_prefix(package.licence.as_deref().unwrap()).unwrap();
        if let Some(numbers) = told.strip_prefix(": text ") {
            for number in numbers.split(", ") {
                assert!(text.contains(&format!("\n==== text {number} ====\n")), "{head}: {number}");
            }
        } else {
            assert!(told.starts_with(": published without a text; by "), "{head}: {told}");
        }
    }
    // As their authors wrote them.
    for words in ["Mozilla Public License, v. 2.0", "Permission is hereby granted, free of charge", "Apache License"] {
        assert!(text.contains(words), "{words}");
    }
    let without = lines.iter().filter(|line| line.contains("published without a text")).count();
    println!("{} crates, {without} of them published without a text", linked.len());
    assert!(
        without * 5 < linked.len(),
        "{without} of {} without a text: they are not looked for where they lie",
        linked.len()
    );
    let standard = tree.text(&format!("{folder}/licences-of-the-standard-library.html"));
    assert!(standard.contains("MIT") && standard.contains("Apache"), "{}", &standard[..300]);
    let own = tree.text(&format!("{folder}/copyright"));
    let licence = fs::read_to_string(project("LICENSE")).unwrap();
    let words = |text: &str| text.split_whitespace().filter(|word| *word != ".").collect::<Vec<_>>().join(" ");
    let terms = licence.split_once("Permission").unwrap().1;
    assert!(own.starts_with("Format: https://www.debian.org/doc/packaging-manuals/copyright-format/1.0/"), "{own}");
    assert!(words(&own).contains(&words(terms)), "{own}");
    let changes = tree.unzipped(&format!("{folder}/changelog.gz"));
    assert!(changes.starts_with(&format!("clinoblade ({}) ", env!("CARGO_PKG_VERSION"))), "{changes}");
}

/// A crate may be published without its licence's text, or with one of its own under another name.
#[test]
fn a_crate_without_a_text_is_listed_with_its_expression_and_its_authors() {
    let folder = tempfile::tempdir().unwrap();
    let bare = Package {
        name: "bare".to_owned(),
        version: "1.2.3".to_owned(),
        licence: Some("MIT OR Apache-2.0".to_owned()),
        licence_file: None,
        authors: vec!["A Person".to_owned(), "Another".to_owned()],
        source: None,
        folder: folder.path().join("bare"),
        is_direct: false,
    };
    let terms =
        Package { name: "own".to_owned(), licence: None, licence_file: Some("TERMS.txt".to_owned()), ..bare.clone() };
    let terms = Package { folder: folder.path().join("own"), ..terms };
    let none = Package { licence: None, ..bare.clone() };
    for package in [&bare, &terms] {
        fs::create_dir(&package.folder).unwrap();
        fs::write(package.folder.join("README.md"), "licensed somehow").unwrap();
    }
    fs::write(terms.folder.join("TERMS.txt"), "Do as you like.").unwrap();
    let (text, without) = licences::list(&[bare, terms]).unwrap();
    assert_eq!(without, ["bare 1.2.3"]);
    assert!(
        text.contains("bare 1.2.3\n    MIT OR Apache-2.0: published without a text; by A Person, Another\n"),
        "{text}"
    );
    assert!(text.contains("own 1.2.3\n    TERMS.txt: text 1\n") && text.ends_with("Do as you like.\n"), "{text}");
    assert_eq!(licences::list(&[none]).unwrap_err(), "bare 1.2.3 names no licence");
}
