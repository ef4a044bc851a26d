//! A logbook that has grown: `cargo bench --bench logbook -- --setups 100000 --seed 1`.
//!
//! So many setups of many heads are put into a logbook, in a file and on a server of its own, each with the entries of a
//! real setup; then the questions are asked that `setup list`, `compare` and `history` ask, and after that the commands
//! themselves are started, as a person does. Prints the median and the 95th of
//! a hundred and how they stand to 50 ms; exit code 1 when a 95th is beyond.

#![allow(clippy::expect_used, clippy::unwrap_used, reason = "a measurement that cannot go on has failed")]

#[cfg(unix)]
#[path = "../logbook_kit/mod.rs"]
mod logbook_kit;
#[cfg(unix)]
#[path = "../postgres_kit/mod.rs"]
mod postgres_kit;

#[cfg(unix)]
fn main() {
    let asked = measured::asked();
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().expect("a runtime");
    let held = runtime.block_on(measured::run(asked));
    println!("{}", if held { "everything within 50 ms" } else { "NOT everything within 50 ms" });
    std::process::exit(i32::from(!held));
}

#[cfg(not(unix))]
fn main() {
    println!("this needs a server that is started here");
}

#[cfg(unix)]
mod measured {
    use super::logbook_kit::{capture, club_setup, datum, entry, head};
    use super::postgres_kit::Server;
    use clinoblade::logbook::{Location, Logbook, NewSetup};
    use clinoblade::record::Event;
    use sqlx::postgres::PgConnection;
    use sqlx::sqlite::SqliteConnectOptions;
    use sqlx::{AssertSqlSafe, ConnectOptions, Connection};
    use std::process::Command;
    use std::time::Instant;

    /// Every answer within this, milliseconds.
    const WITHIN: f64 = 50.0;
    /// How often each question is asked.
    const TIMES: u32 = 200;
    /// How often a whole command is started.
    const COMMANDS: u32 = 40;
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

    #[derive(Clone, Copy)]
    pub struct Asked {
        setups: u32,
        seed: u64,
        engine: Option<Engine>,
    }

    #[derive(Clone, Copy, PartialEq)]
    enum Engine {
        File,
        Server,
    }

    pub fn asked() -> Asked {
        let mut asked = Asked { setups: 100_000, seed: 1, engine: None };
        let mut arguments = std::env::args().skip(1);
        while let Some(argument) = arguments.next() {
            let mut next = || arguments.next().unwrap_or_else(stop);
            match argument.as_str() {
                "--setups" => asked.setups = next().parse().ok().filter(|&n| n > 1).unwrap_or_else(stop),
                "--seed" => asked.seed = next().parse().unwrap_or_else(|_| stop()),
                "--engine" => {
                    asked.engine = match next().as_str() {
                        "sqlite" => Some(Engine::File),
                        "postgres" => Some(Engine::Server),
                        _ => stop(),
                    }
                }
                "--bench" => {}
                _ => stop(),
            }
        }
        asked
    }

    fn stop<T>() -> T {
        eprintln!("usage: cargo bench --bench logbook -- [--setups N] [--seed N] [--engine sqlite|postgres]");
        std::process::exit(2)
    }

    pub async fn run(asked: Asked) -> bool {
        let Asked { setups, seed, engine } = asked;
        println!("{setups} setups of {} entries, {OF_ONE_HEAD} of each head, seed {seed}", CAPTURED.len() + 2);
        let mut held = true;
        if engine != Some(Engine::Server) {
            let folder = tempfile::tempdir().expect("a folder");
            let place = Location::File(folder.path().join("grown.sqlite"));
            held &= ask("SQLite", &place, asked).await;
        }
        if engine != Some(Engine::File) {
            let server = Server::start();
            let place = server.database("grown").parse().expect("its URL");
            held &= ask("PostgreSQL", &place, asked).await;
        }
        held
    }

    async fn ask(engine: &str, place: &Location, Asked { setups, seed, .. }: Asked) -> bool {
        let begun = Instant::now();
        fill(place, setups).await;
        println!("{engine}: filled in {:.0} s", begun.elapsed().as_secs_f64());
        // As a command finds it: opened anew.
        let logbook = Logbook::open(place).await.expect("the logbook");
        let mut chance = Chance(seed);
        let mut any = || (chance.next() % u64::from(setups)) as u32 + 1;
        let mut held = true;
        let mut took = Took::default();
        for _ in 0..TIMES {
            let clock = Instant::now();
            let listed = logbook.setups(None, 20).await.expect("the list");
            took.add(clock);
            assert_eq!(listed.len(), 20.min(setups as usize));
        }
        held &= took.told(engine, "list of the newest");
        for _ in 0..TIMES {
            let (one, other) = (any(), any());
            let clock = Instant::now();
            let pair = [logbook.setup_with_entries(one).await, logbook.setup_with_entries(other).await];
            took.add(clock);
            assert!(pair.into_iter().all(|setup| setup.expect("a setup").entries.len() == CAPTURED.len() + 2));
        }
        held &= took.told(engine, "two setups with entries");
        for _ in 0..TIMES {
            let name = name_of(any() % heads_of(setups) + 1);
            let clock = Instant::now();
            let kept = logbook.setups_of_head(&name, u32::MAX).await.expect("the head's setups");
            took.add(clock);
            assert!(
                kept.len() as u32 >= setups / heads_of(setups)
                    && kept.iter().all(|one| one.entries.len() == CAPTURED.len() + 2)
            );
        }
        held &= took.told(engine, &format!("{OF_ONE_HEAD} setups of one head"));
        logbook.close().await;
        let of = |setup: u32| name_of((setup - 1) % heads_of(setups) + 1);
        for _ in 0..COMMANDS {
            whole(place, &["setup", "list"], &mut took);
        }
        held &= took.told(engine, "`setup list`");
        for _ in 0..COMMANDS {
            whole(place, &["setup", "list", "--head", &of(any())], &mut took);
        }
        held &= took.told(engine, "`setup list --head`");
        for _ in 0..COMMANDS {
            whole(place, &["compare", &any().to_string(), &any().to_string()], &mut took);
        }
        held &= took.told(engine, "`compare`");
        for _ in 0..COMMANDS {
            whole(place, &["history", &of(any())], &mut took);
        }
        held & took.told(engine, "`history`")
    }

    /// A whole command, from its start to its end.
    fn whole(place: &Location, words: &[&str], took: &mut Took) {
        let place = match place {
            Location::Shared(url) => url.clone(),
            file => file.path().expect("a path").expect("a file").display().to_string(),
        };
        let mut command = Command::new(env!("CARGO_BIN_EXE_clinoblade"));
        command.args(["--logbook", &place, "--json"]).args(words);
        let clock = Instant::now();
        let answer = command.output().expect("the program");
        took.add(clock);
        let said = String::from_utf8_lossy(&answer.stderr);
        assert!(matches!(answer.status.code(), Some(0 | 1)) && !answer.stdout.is_empty(), "{words:?}: {said}");
    }

    const fn heads_of(setups: u32) -> u32 {
        setups.div_ceil(OF_ONE_HEAD)
    }

    fn name_of(head: u32) -> String {
        format!("Trainer {head}")
    }

    /// One setup is recorded, and then copied in the database, which is the quick way to very many.
    async fn fill(place: &Location, setups: u32) {
        let logbook = Logbook::open(place).await.expect("a logbook");
        let setup =
            logbook.new_setup(NewSetup { head: head(&name_of(1)), ..club_setup() }).await.expect("a setup").number;
        let mut events = vec![Event::Datum { datum: datum() }];
        events.extend(CAPTURED.map(|what| Event::Capture(Box::new(capture(what)))));
        events
            .push(Event::Adjustment { adjustment: "link B +1 half-turn".parse().expect("an adjustment"), note: None });
        for event in events {
            logbook.append(setup, &entry(event), None).await.expect("an entry");
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
    fn copies(series: &str, name: &str, hex: &str, setups: u32) -> [String; 3] {
        [
            format!(
                "INSERT INTO setups (number, uid, head, reason, begun_at, changed_at, closed_at, entries, captures, document)
                 SELECT n, '00000000-0000-7000-8000-' || {hex}, {name}, reason, begun_at + n, changed_at + n, changed_at + n, entries, captures,
                        replace(replace(replace(document, '\"number\":1,', '\"number\":' || n || ','),
                                        uid, '00000000-0000-7000-8000-' || {hex}), '\"Trainer 1\"', '\"' || {name} || '\"')
                 FROM setups, {series} WHERE number = 1"
            ),
            format!(
                "INSERT INTO entries (setup, number, uid, kind, recorded_at, document)
                 SELECT n, number, n || ' ' || number, kind, recorded_at + n, document
                 FROM {series}, entries WHERE setup = 1 ORDER BY n, number"
            ),
            format!("UPDATE counters SET setups = {setups}"),
        ]
    }

    /// Milliseconds, one for each time.
    #[derive(Default)]
    struct Took(Vec<f64>);

    impl Took {
        fn add(&mut self, since: Instant) {
            self.0.push(since.elapsed().as_secs_f64() * 1e3);
        }

        /// Prints and forgets them; whether they hold.
        fn told(&mut self, engine: &str, what: &str) -> bool {
            self.0.sort_by(f64::total_cmp);
            let at = |share: f64| self.0[((self.0.len() - 1) as f64 * share).round() as usize];
            let (median, most) = (at(0.5), at(0.95));
            println!(
                "{engine:<11} {what:<26} median {median:>7.2} ms, 95 % {most:>7.2} ms, {:>5.2} of {WITHIN:.0} ms",
                most / WITHIN
            );
            self.0.clear();
            most < WITHIN
        }
    }

    /// Numbers by chance, the same for the same seed (splitmix64: Steele, Lea, Flood, OOPSLA 2014).
    struct Chance(u64);

    impl Chance {
        fn next(&mut self) -> u64 {
            self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mut mixed = self.0;
            mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            mixed ^ (mixed >> 31)
        }
    }
}
