//! A logbook of so many setups, each with the entries of a real one.

use clinoblade::logbook::{Location, Logbook, NewSetup};
use clinoblade::record::Event;
use sqlx::postgres::PgConnection;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{AssertSqlSafe, ConnectOptions, Connection};
use support::logbook::{capture, club_setup, datum, entry, head, raw};

/// So many setups have one head: a club's helicopter, set up for years.
const OF_ONE_HEAD: u32 = 40;
/// Two blades at mid stick, every neutral and every end, some of it twice.
const CAPTURED: [&str; 14] = [
    "collective mid",
    "collective mid",
    "elevator neutral",
    "elevator up",
    "elevator down",
    "aileron neutral",
    "aileron left",
    "aileron right",
    "rudder neutral",
    "rudder left",
    "rudder right",
    "elevator up",
    "collective high",
    "collective low",
];
/// A datum, the captures, an adjustment.
pub const ENTRIES: usize = CAPTURED.len() + 2;

/// So many setups have their samples: some 20 MB.
const WITH_SAMPLES: u32 = 100;

/// How many heads so many setups are of.
pub const fn heads_of(setups: u32) -> u32 {
    setups.div_ceil(OF_ONE_HEAD)
}

/// The name of one of them, counted from 1.
pub fn name_of(head: u32) -> String {
    format!("Trainer {head}")
}

/// One setup is recorded, and then copied in the database, which is the quick way to very many.
pub async fn fill(place: &Location, setups: u32) {
    let logbook = Logbook::open(place).await.expect("a logbook");
    let setup = logbook.new_setup(NewSetup { head: head(&name_of(1)), ..club_setup() }).await.expect("a setup").number;
    let mut events = vec![Event::Datum { datum: datum() }];
    events.extend(CAPTURED.map(|what| Event::Capture(Box::new(capture(what)))));
    events.push(Event::Adjustment { adjustment: "link B +1 half-turn".parse().expect("an adjustment"), note: None });
    for event in events {
        let samples = matches!(event, Event::Capture(_)).then(|| raw(1));
        logbook.append(setup, &entry(event), samples.as_ref()).await.expect("an entry");
    }
    logbook.close().await;
    let heads = heads_of(setups);
    // The setups of one head lie among those of all others, as the years bring them.
    let name = format!("'Trainer ' || ((n - 1) % {heads} + 1)");
    match place {
        Location::Shared(url) => {
            let series = format!("generate_series(2, {setups}) AS series (n)");
            let mut server = PgConnection::connect(url).await.expect("the server");
            for copy in copies(&series, &name, "lpad(to_hex(n), 12, '0')", setups) {
                sqlx::raw_sql(AssertSqlSafe(copy)).execute(&mut server).await.expect("room");
            }
            sqlx::raw_sql("ANALYZE").execute(&mut server).await.expect("statistics");
        }
        Location::Own | Location::File(_) => {
            let path = place.path().expect("a path").expect("a file");
            let mut file = SqliteConnectOptions::new().filename(path).connect().await.expect("the file");
            let series = format!(
                "(WITH RECURSIVE numbers (n) AS (SELECT 2 UNION ALL SELECT n + 1 FROM numbers WHERE n < {setups})
                  SELECT n FROM numbers) AS series"
            );
            for copy in copies(&series, &name, "printf('%012x', n)", setups) {
                sqlx::raw_sql(AssertSqlSafe(copy)).execute(&mut file).await.expect("room");
            }
            file.close().await.expect("all of it is written");
        }
    }
}

/// The first setup once for every number of the series: rows and the documents in them.
fn copies(series: &str, name: &str, hex: &str, setups: u32) -> [String; 4] {
    // A logbook as it is after a year or two is small enough to be checked through whenever it is opened: with its samples it
    // is as large as that. Those of very many setups are not what is asked for.
    let with_samples = setups.min(WITH_SAMPLES);
    [
        format!(
            "INSERT INTO setups (number, uid, head, reason, begun_at, changed_at, closed_at, entries, captures, document)
             SELECT n, '00000000-0000-7000-8000-' || {hex}, {name}, reason, begun_at + n, changed_at + n, changed_at + n, entries, captures,
                    replace(replace(replace(document, '\"number\":1,', '\"number\":' || n || ','),
                                    uid, '00000000-0000-7000-8000-' || {hex}), '\"Trainer 1\"', '\"' || {name} || '\"')
             FROM setups, {series} WHERE number = 1"
        ),
        format!(
            "INSERT INTO entries (setup, number, uid, kind, recorded_at, document, checksum)
             SELECT n, number, n || ' ' || number, kind, recorded_at + n, document, checksum
             FROM {series}, entries WHERE setup = 1 ORDER BY n, number"
        ),
        format!(
            "INSERT INTO raw_samples (setup, entry, samples, checksum)
             SELECT n, entry, samples, checksum FROM {series}, raw_samples WHERE setup = 1 AND n <= {with_samples}"
        ),
        format!("UPDATE counters SET setups = {setups}"),
    ]
}
