//! The program at the bench: each step is done with it, and its logbook is held against the second account.

use super::bench::Bench;
use super::book::{Book, Written};
use super::chance::WHAT;
use super::held::{hold, is_past_a_bind};
use super::reference::{Account, Deed, SWEPT, Setup};
use super::step::{Move, Place, Side, Step, Turned, Wish};
use clinoblade::logbook::{Location, Logbook, LogbookError, NewSetup};
use clinoblade::record::{CellName, Check, Head, LimitRecord, Wanted};
use clinoblade::rotor::{Axis, BladeName, Clip, LeadingEdge, Spot};
use jiff::Timestamp;
use proptest_state_machine::StateMachineTest;
use std::cell::Cell;
use std::path::PathBuf;
use std::rc::Rc;
use tokio::runtime::Runtime;

thread_local! {
    /// Seconds of the simulated head in all stories of this thread that were told to their end.
    pub static AT_THE_BENCH: Cell<f64> = const { Cell::new(0.0) };
}

/// So often at most what is wanted is measured before nothing is wanted.
const ROUNDS: usize = 3;

pub struct Soak {
    runtime: Rc<Runtime>,
    /// As it must be now.
    account: Account,
    folder: tempfile::TempDir,
    logbook: Logbook,
    /// Of the first setup and every second from there, and of the others.
    heads: [Head; 2],
    bench: Bench,
    /// What was written in each setup.
    written: Vec<Vec<Written>>,
    /// Logbooks beside this one.
    others: u32,
    /// The setup of the last step.
    touched: Option<usize>,
}

async fn open(path: PathBuf) -> Logbook {
    Logbook::open(&Location::File(path)).await.unwrap()
}

impl Soak {
    async fn new(runtime: Rc<Runtime>, account: Account) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let targets = "blade_zero = \"0 ± 0.5\"\ncollective_low = \"-10 ± 2\"\ncollective_high = \"10 ± 2\"";
        let text = support::bench::HEAD.replace("blade_zero = \"0 ± 0.5\"", targets);
        let text = text.replace("positive = \"right\"", "positive = \"right\"\nservo = 4");
        // A travel of 30° from a neutral of 6°: what stands past its ceiling is not what moves past it. Nothing is past the other.
        let heads = [33, 45].map(|most| {
            let ceiling = format!("tail = \"at most {most}\"\ntail_neutral = \"6 ± 1\"");
            Head::from_toml(&text.replace("tail = \"at most 45\"", &ceiling)).unwrap()
        });
        Self {
            runtime,
            account,
            logbook: open(folder.path().join("club.sqlite")).await,
            folder,
            heads,
            bench: Bench::new(),
            written: Vec::new(),
            others: 0,
            touched: None,
        }
    }

    fn book(&self, at: usize) -> Book {
        Book { logbook: self.logbook.clone(), number: at as u32 + 1, written: self.written[at].clone() }
    }

    async fn other_logbook(&mut self) -> Logbook {
        self.others += 1;
        open(self.folder.path().join(format!("other-{}.sqlite", self.others))).await
    }

    async fn take(&mut self, step: &Step) {
        let at = self.account.place_of(step);
        match (step, at) {
            (Step::NewSetup, _) => self.new_setup().await,
            (Step::ComeBack { tidied }, _) => self.come_back(*tidied).await,
            (Step::Close(_), Some(at)) => {
                self.logbook.close_setup(at as u32 + 1, Timestamp::now()).await.unwrap();
            }
            (Step::HandOver(_), Some(at)) => self.hand_over(at as u32 + 1).await,
            (Step::TryTheWanted(_), Some(at)) => self.try_the_wanted(at).await,
            (_, Some(at)) => self.happens(at, step).await,
            (_, None) => panic!("{step}: in no setup"),
        }
        self.touched = at;
    }

    async fn new_setup(&mut self) {
        let head = self.heads[self.written.len() % 2].clone();
        let setup = self.logbook.new_setup(NewSetup::of(head)).await.unwrap();
        self.written.push(Vec::new());
        assert_eq!(setup.number as usize, self.written.len(), "the new setup");
    }

    async fn come_back(&mut self, tidied: bool) {
        let left = std::mem::replace(&mut self.logbook, open(self.folder.path().join("meanwhile.sqlite")).await);
        if tidied {
            left.close().await;
        } else {
            // As after a kill: nobody tidied up.
            drop(left);
        }
        self.logbook = open(self.folder.path().join("club.sqlite")).await;
    }

    /// What adds to a setup, or is refused because it is closed.
    async fn happens(&mut self, at: usize, step: &Step) {
        if matches!(step, Step::TakeUp(..)) {
            self.logbook.reopen_setup(at as u32 + 1).await.unwrap();
        }
        let mut book = self.book(at);
        let deeds = self.account.deeds(at, step);
        if let (Step::Capture(_, wish), true) = (step, deeds.is_empty()) {
            assert!(book.is_refused(&mut self.bench, wish).await, "{step}: zero is another place");
        }
        let mut setup = self.account.setups[at].clone();
        for deed in deeds {
            setup.deeds.push(deed);
            match (book.perform(&mut self.bench, &setup, self.account.rules).await, self.account.refuses(step)) {
                (Ok(()), false) | (Err(LogbookError::Closed(_)), true) => {}
                (Ok(()), true) => panic!("{step}: nothing is added to a closed setup"),
                (Err(error), _) => panic!("{step}: {error}"),
            }
        }
        self.written[at] = book.written;
    }

    /// To another logbook and back: it is the same there, and nothing is taken twice here.
    async fn hand_over(&mut self, number: u32) {
        let document = self.logbook.export(number).await.unwrap();
        let other = self.other_logbook().await;
        let there = other.import(std::slice::from_ref(&document)).await.unwrap()[0].setup;
        let (kept, copy) =
            (self.logbook.setup_with_entries(number).await.unwrap(), other.setup_with_entries(there).await.unwrap());
        assert_eq!(kept.entries, copy.entries);
        let record = |entries: &[_]| LimitRecord::new(&kept.setup.head, entries);
        assert_eq!(record(&kept.entries), record(&copy.entries), "the record is the same in another logbook");
        let again = self.logbook.import(&[document]).await.unwrap();
        assert!(again[0].was_here && again[0].setup == number, "it was here already");
        other.close().await;
    }

    /// Everything that the record still wants, in its order, in a copy: after that it is complete.
    async fn try_the_wanted(&mut self, at: usize) {
        let document = self.logbook.export(at as u32 + 1).await.unwrap();
        let other = self.other_logbook().await;
        let number = other.import(&[document]).await.unwrap()[0].setup;
        let mut book = Book { logbook: other, number, ..self.book(at) };
        let mut setup = self.account.setups[at].clone();
        if let Some(zero) = setup.zero_for_all() {
            setup.deeds.push(zero);
            book.perform(&mut self.bench, &setup, self.account.rules).await.unwrap();
        }
        let mut record = book.open().await.record();
        // Whoever reads a blade for its zero may by that take up a track that was left out: then it is asked for in a second round.
        for _ in 0..ROUNDS {
            for wanted in record.shortest_remeasure() {
                // Whoever was told that full stick goes past a bind stops short of it.
                let bound = record.cell(CellName::of(wanted.subject)).is_some_and(is_past_a_bind);
                for deed in setup.shots_of([Wish { bound, ..wish(wanted) }]) {
                    setup.deeds.push(deed);
                    book.perform(&mut self.bench, &setup, self.account.rules).await.unwrap();
                }
            }
            for check in &record.to_check {
                for deed in checked(&setup, *check) {
                    setup.deeds.push(deed);
                    book.perform(&mut self.bench, &setup, self.account.rules).await.unwrap();
                }
            }
            record = hold(&book, &setup, self.account.rules).await;
            if record.complete {
                break;
            }
        }
        assert!(record.complete, "all that is wanted was measured, and it is not complete");
        book.logbook.close().await;
    }

    async fn holds(&self) {
        let account = &self.account;
        let listed = self.logbook.setups(None, u32::MAX).await.unwrap();
        assert_eq!(listed.len(), account.setups.len(), "how many setups there are");
        for (summary, (at, setup)) in listed.iter().rev().zip(account.setups.iter().enumerate()) {
            let listed = (summary.number as usize, summary.entries as usize, summary.captures as usize);
            assert_eq!(listed, (at + 1, setup.deeds.len(), setup.shots().count()), "number, entries and captures");
            assert_eq!(summary.closed_at.is_some(), setup.closed, "whether setup {} is closed", at + 1);
        }
        match (self.logbook.open_setup().await, account.current()) {
            (Ok(open), Some(at)) => assert_eq!(open.number as usize, at + 1, "the open setup"),
            (Err(LogbookError::NoOpenSetup), None) => {}
            (found, at) => panic!("{found:?}, and not {at:?}"),
        }
        let looked_at = account.current().into_iter().chain(self.touched.filter(|at| account.current() != Some(*at)));
        for at in looked_at {
            hold(&self.book(at), &account.setups[at], account.rules).await;
        }
    }
}

/// What else the program wants, as a person does it.
fn checked(setup: &Setup, check: Check) -> Vec<Deed> {
    let letter = |blade: BladeName| blade.to_string().chars().next().unwrap();
    match check {
        Check::Spindle { blade } => {
            let blade = letter(blade);
            vec![Deed::Spindle(Turned { blade, seats: &[0, 90, 180, 270], bend: 0, toward: 0, marked: true })]
        }
        Check::Slop { blade } => {
            let place = Place::Main { blade: letter(blade), station: 90.0 };
            let from = |side| Wish {
                what: "elevator neutral",
                place,
                forward: true,
                stick: 0.0,
                bound: false,
                again: false,
                from: Some(side),
            };
            setup.shots_of([Side::Below, Side::Above].map(from))
        }
        Check::Sweep { axis } => {
            let place = match axis {
                Axis::Rudder => Place::Tail { blade: 'A', up: true },
                Axis::Aileron => Place::Main { blade: 'A', station: 0.0 },
                _ => Place::Main { blade: 'A', station: 90.0 },
            };
            let [ends] = SWEPT.iter().filter(|ends| ends[0].starts_with(&axis.to_string())).collect::<Vec<_>>()[..]
            else {
                panic!("{axis} is swept")
            };
            let axis = ends[0].split(' ').next().unwrap();
            vec![Deed::Swept { axis, place, moves: [Move::AsBefore; 2] }]
        }
    }
}

/// A capture that the program wants, as a person takes it.
fn wish(wanted: &Wanted) -> Wish {
    let deflection = wanted.subject.deflection();
    let name = deflection.to_string();
    let place = match wanted.subject.spot() {
        Spot::Main(station) => {
            let blade = wanted.subject.blade().to_string().chars().next().unwrap();
            Place::Main { blade, station: station.azimuth().degrees() }
        }
        Spot::Tail(edge) => {
            let blade = wanted.subject.blade().to_string().chars().next().unwrap();
            Place::Tail { blade, up: edge == LeadingEdge::Up }
        }
    };
    let forward = wanted.clip == Clip::Forward;
    let (what, _) = WHAT.into_iter().find(|(what, _)| *what == name).unwrap_or_else(|| panic!("{name} is wanted"));
    Wish { what, place, forward, stick: deflection.full_stick().value(), bound: false, again: false, from: None }
}

impl StateMachineTest for Soak {
    type SystemUnderTest = Self;
    type Reference = Account;

    fn init_test(account: &Account) -> Self {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        let runtime = Rc::new(runtime);
        Rc::clone(&runtime).block_on(Self::new(runtime, account.clone()))
    }

    fn apply(mut soak: Self, after: &Account, step: Step) -> Self {
        Rc::clone(&soak.runtime).block_on(soak.take(&step));
        soak.account = after.clone();
        soak
    }

    fn check_invariants(soak: &Self, _: &Account) {
        soak.runtime.block_on(soak.holds());
    }

    fn teardown(soak: Self, _: Account) {
        AT_THE_BENCH.set(AT_THE_BENCH.get() + soak.bench.now);
        soak.runtime.block_on(soak.logbook.close());
    }
}
