//! The kept corpus of the fuzzer, replayed: what once broke a decoder or a parser stays mended.

use support::place::project;
use support::targets::TARGETS;

#[test]
fn every_input_that_is_kept_leaves_its_target_standing() {
    let corpus = project("tests/fuzz/corpus");
    for (name, run) in TARGETS {
        let mut files: Vec<_> =
            std::fs::read_dir(corpus.join(name)).unwrap().map(|file| file.unwrap().path()).collect();
        files.sort();
        assert!(!files.is_empty(), "{name} has a corpus");
        for file in files {
            println!("{}", file.display());
            run(&std::fs::read(&file).unwrap());
        }
    }
    let known = |name: &str| TARGETS.iter().any(|(target, _)| *target == name);
    for folder in std::fs::read_dir(&corpus).unwrap() {
        let name = folder.unwrap().file_name().into_string().unwrap();
        assert!(known(&name), "{name} is the corpus of no target");
    }
}
