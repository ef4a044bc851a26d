//! Under which licences the program stands on others' work, and where that comes from. Needs no network.
//!
//! Licence expressions are read as SPDX 2.3, annex D has them (`AND` binds more tightly than `OR`; older manifests write a slash
//! for `OR`). A licence counts as permissive where it asks for no more than its notice.

use support::packages::{Package, all_dependencies, normal_dependencies, own_packages};

const PERMISSIVE: [&str; 11] = [
    "0BSD",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "ISC",
    "MIT",
    "MIT-0",
    "Unicode-3.0",
    "Zlib",
];

/// Copyleft of the file (MPL-2.0): used as published, so that the sources on crates.io are what a receiver may ask for. The
/// first is part of the program, the second of the page's tests only.
const BY_FILE: [&str; 2] = ["serialport", "webdriver"];

/// Whether one of the ways to take an expression asks for permissive licences alone.
fn is_permissive(expression: &str) -> bool {
    let spaced = expression.replace('/', " OR ").replace('(', " ( ").replace(')', " ) ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut rest = words.as_slice();
    either(&mut rest) == Some(true) && rest.is_empty()
}

/// Alternatives; none where it is no expression.
fn either(words: &mut &[&str]) -> Option<bool> {
    let mut one = both(words)?;
    while step_over(words, "OR") {
        one |= both(words)?;
    }
    Some(one)
}

fn both(words: &mut &[&str]) -> Option<bool> {
    let mut all = single(words)?;
    while step_over(words, "AND") {
        all &= single(words)?;
    }
    Some(all)
}

fn single(words: &mut &[&str]) -> Option<bool> {
    if step_over(words, "(") {
        let inner = either(words)?;
        return step_over(words, ")").then_some(inner);
    }
    let (licence, rest) = words.split_first()?;
    *words = rest;
    if !step_over(words, "WITH") {
        return Some(PERMISSIVE.contains(licence));
    }
    let (exception, rest) = words.split_first()?;
    *words = rest;
    Some(PERMISSIVE.contains(&format!("{licence} WITH {exception}").as_str()))
}

fn step_over(words: &mut &[&str], word: &str) -> bool {
    match words.split_first() {
        Some((first, rest)) if *first == word => {
            *words = rest;
            true
        }
        _ => false,
    }
}

#[test]
fn an_expression_is_permissive_where_one_way_to_take_it_is() {
    for permissive in [
        "MIT",
        "MIT/Apache-2.0",
        "MIT OR GPL-3.0-only",
        "(MIT OR Apache-2.0) AND Unicode-3.0",
        "Apache-2.0 WITH LLVM-exception OR GPL-2.0-only",
        "GPL-3.0-only OR MIT AND ISC",
    ] {
        assert!(is_permissive(permissive), "{permissive}");
    }
    for not in [
        "",
        "MPL-2.0",
        "MIT AND GPL-3.0-only",
        "(MIT OR ISC) AND LGPL-2.1-only",
        "GPL-2.0-only WITH Classpath-exception-2.0",
        "MIT WITH LLVM-exception",
        "(MIT",
        "MIT)",
        "MIT OR",
        "MIT ISC",
    ] {
        assert!(!is_permissive(not), "{not}");
    }
}

#[test]
fn every_dependency_may_be_passed_on_with_its_notice_alone() {
    let all = all_dependencies();
    assert!(all.len() > normal_dependencies().len(), "the tests need more than the program");
    let asks_more = |package: &&Package| !package.licence.as_deref().is_some_and(is_permissive);
    let mut asking: Vec<&str> = all.iter().filter(asks_more).map(|package| package.name.as_str()).collect();
    asking.sort_unstable();
    // Also the exceptions: one that is not needed any more goes from the list.
    assert_eq!(asking, BY_FILE, "{:?}", all.iter().filter(asks_more).collect::<Vec<_>>());
    assert!(all.iter().filter(asks_more).all(|package| package.licence.as_deref() == Some("MPL-2.0")));
}

#[test]
fn every_package_comes_from_crates_io() {
    const CRATES_IO: &str = "registry+https://github.com/rust-lang/crates.io-index";
    for Package { name, version, source, .. } in all_dependencies() {
        assert_eq!(source.as_deref(), Some(CRATES_IO), "{name} {version}");
    }
    // The lock file has the packages of other systems as well, each with the checksum of what was published.
    let lock = include_str!("../../Cargo.lock");
    let count = |begin: &str| lock.lines().filter(|line| line.starts_with(begin)).count();
    assert_eq!(count("source = "), count(&format!("source = \"{CRATES_IO}\"")));
    assert_eq!(count("checksum = "), count("source = "));
    assert_eq!(count("source = "), count("name = ") - own_packages());
}
