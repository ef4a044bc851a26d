//! `export` and `import` as a person runs them.

use serde_json::Value;
use support::bench::Bench;
use support::place::project;

/// A setup measured with the program itself: a datum, a neutral and an end from the recorded stream, a link turned.
fn measured() -> Bench {
    let bench = Bench::with_setup();
    let log = project("examples/blade-rest.log").display().to_string();
    for direction in ["mid", "high"] {
        bench.run(&["capture", "collective", direction, "--blade", "A", "--station", "90", "--replay", &log, "--json"]);
    }
    bench.done(&["adjust", "link", "B", "+1"]);
    assert!(bench.json(&["setup", "show"])["entries"].as_array().unwrap().len() >= 2);
    bench
}

#[test]
fn a_setup_is_exported_to_a_file_and_imported_into_another_logbook() {
    let (bench, other) = (measured(), Bench::new());
    let file = bench.name("setup.json");
    let exported = bench.json(&["export", "--out", &file]);
    assert_eq!((&exported["setup"], exported["file"].as_str()), (&Value::from(1), Some(file.as_str())));
    // Printed, it is the same document.
    let printed = bench.done(&["export", "1"]).json();
    assert_eq!(printed, serde_json::from_str::<Value>(&std::fs::read_to_string(&file).unwrap()).unwrap());
    let schema = bench.done(&["export", "--schema"]).json();
    if let Some(error) =
        jsonschema::options().should_validate_formats(true).build(&schema).unwrap().iter_errors(&printed).next()
    {
        panic!("at {}: {error}", error.instance_path());
    }
    // A file that is there is not overwritten.
    let again = bench.run(&["export", "--out", &file]);
    assert!(again.code == 2 && again.stderr.contains("setup.json"), "{again}");

    let first = other.done(&["import", &file]);
    assert!(first.stdout.contains("now setup 1 of"), "{first}");
    let again = other.json(&["import", &file]);
    assert_eq!(
        (&again["imported"][0]["setup"], &again["imported"][0]["was_here"]),
        (&Value::from(1), &Value::from(true))
    );
    assert!(other.done(&["import", &file]).stdout.contains("already here as setup 1"));
    // The record says the same there.
    let shown = |bench: &Bench| bench.json(&["setup", "show", "1"])["record"].clone();
    assert_eq!(shown(&bench), shown(&other));
    assert!(other.done(&["setup", "list"]).stdout.contains("imported"));
    // It is not what the next capture goes to, until it is taken up again.
    assert_eq!(other.run(&["check"]).code, 2);
    other.run(&["setup", "resume", "1"]);
    assert!(other.run(&["check"]).code < 2);
    // Now it differs.
    let differs = other.run(&["import", &file, "--json"]);
    assert!(differs.code == 2 && differs.stdout.contains("differs from the document in length"), "{differs}");
}

#[test]
fn a_damaged_file_is_refused_with_its_name_and_the_field_and_nothing_is_imported() {
    let (bench, other) = (measured(), Bench::new());
    let file = bench.name("good.json");
    bench.done(&["export", "--out", &file]);
    let text = std::fs::read_to_string(&file).unwrap();
    let damaged = bench.write("damaged.json", text.replacen("\"seat\": 1", "\"seat\": \"first\"", 1));
    let answer = other.run(&["import", &file, &damaged]);
    assert_eq!(answer.code, 2, "{answer}");
    assert!(
        answer.stderr.contains("damaged.json: At entries[0].entry.event.capture.seat: a whole number belongs here"),
        "{answer}"
    );
    let cut = bench.write("cut.json", &text[..text.len() / 2]);
    let answer = other.run(&["import", &cut]);
    assert!(answer.code == 2 && answer.stderr.contains("cut.json: The document breaks off at line"), "{answer}");
    let missing = other.run(&["import", "nowhere.json"]);
    assert!(missing.code == 2 && missing.stderr.contains("nowhere.json"), "{missing}");
    assert_eq!(other.json(&["setup", "list"])["setups"].as_array().unwrap().len(), 0);
}
