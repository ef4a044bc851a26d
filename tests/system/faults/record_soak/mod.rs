//! Hours at the bench, compressed: a simulated head is measured by a person who does everything there is to do, in any
//! order. After every step the logbook is held against a second account of what it must say (`reference`), and the
//! values against the truth of the simulated head. A story in which they differ is shortened to what it takes.

mod bench;
mod besides;
mod book;
mod chance;
mod good;
mod held;
mod reference;
mod soak;
mod step;
mod verdict;

use good::GOOD;
use proptest::strategy::{Just, Strategy, ValueTree};
use proptest::test_runner::{Config, Reason, RngAlgorithm, TestError, TestRng, TestRunner};
use proptest_state_machine::{ReferenceStateMachine, Sequential, StateMachineTest};
use reference::{Account, Rule, Rules};
use soak::{AT_THE_BENCH, Soak};
use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::ops::RangeInclusive;
use std::panic::{AssertUnwindSafe, catch_unwind, set_hook, take_hook};
use std::sync::{Arc, Once, atomic::AtomicUsize};
use std::time::Instant;
use step::{KINDS, Place, Side, Step, Which, Wish};

/// How many hours of the simulated head, where not said otherwise.
const HOURS: f64 = 0.35;
/// Says how many.
const HOURS_WANTED: &str = "CLINOBLADE_SOAK_HOURS";
/// Says which chance.
const SEED_WANTED: &str = "CLINOBLADE_SOAK_SEED";
/// For so long a story that fails is shortened, in milliseconds: a long one takes seconds each time it is told.
const SHRINK_MS: u32 = 60_000;
/// How many steps a story has.
const STEPS: RangeInclusive<usize> = 40..=120;

/// How a case begins, what is done in it, and how much of that was seen at first.
type Told = (Account, Vec<Step>, Option<Arc<AtomicUsize>>);

fn wanted(variable: &str) -> Option<f64> {
    std::env::var(variable).ok().map(|text| text.parse().expect("a number"))
}

/// How far a story that fails is shortened: at most so many times told, and so many milliseconds; 0 without an end.
type Shortened = (u32, u32);

/// The same chance in every run.
fn runner(seed: u64, (max_shrink_iters, max_shrink_time): Shortened) -> TestRunner {
    let mut bytes = [0; 32];
    bytes[..8].copy_from_slice(&seed.to_le_bytes());
    let config = Config { failure_persistence: None, max_shrink_iters, max_shrink_time, ..Config::default() };
    TestRunner::new_with_rng(config, TestRng::from_seed(RngAlgorithm::ChaCha, &bytes))
}

/// Panics of this thread are not told meanwhile: of many failing stories only the shortest is of interest.
fn quietly<T>(work: impl FnOnce() -> T) -> T {
    thread_local! {
        static QUIET: Cell<bool> = const { Cell::new(false) };
    }
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let tell = take_hook();
        set_hook(Box::new(move |info| {
            if !QUIET.get() {
                tell(info)
            }
        }));
    });
    QUIET.set(true);
    let result = work();
    QUIET.set(false);
    result
}

/// Whether this case fails: why, and the shortest story that still does.
fn shortest_failing(runner: &mut TestRunner, case: impl ValueTree<Value = Told>) -> Option<(Reason, Vec<Step>)> {
    let failing = RefCell::new(Vec::new());
    let tell = |(account, steps, seen): Told| {
        let shortest = failing.replace(steps.clone());
        Soak::test_sequential(Config::default(), account, steps, seen);
        failing.replace(shortest);
        Ok(())
    };
    match quietly(|| runner.run_one(case, tell)) {
        Ok(_) => None,
        Err(TestError::Fail(why, _)) => Some((why, failing.take())),
        Err(TestError::Abort(why)) => panic!("{why}"),
    }
}

fn in_words(steps: &[Step]) -> String {
    steps.iter().enumerate().map(|(at, step)| format!("{:3}. {step}\n", at + 1)).collect()
}

/// How often everything was done.
#[derive(Debug, Default)]
struct Tally {
    stories: usize,
    steps: usize,
    done: BTreeMap<&'static str, usize>,
}

impl Tally {
    const REFUSED: &str = "refused by a closed setup";

    fn count(&mut self, mut account: Account, steps: &[Step]) {
        self.stories += 1;
        self.steps += steps.len();
        for step in steps {
            let kind = if account.refuses(step) { Self::REFUSED } else { step.kind() };
            *self.done.entry(kind).or_default() += 1;
            account = <Account as ReferenceStateMachine>::apply(account, step);
        }
    }
}

#[test]
fn whatever_is_done_at_the_bench_the_record_says_what_a_second_account_says() {
    let hours = wanted(HOURS_WANTED).unwrap_or(HOURS);
    let mut runner = runner(wanted(SEED_WANTED).map_or(1, |seed| seed as u64), (10_000, SHRINK_MS));
    let (begun, mut tally) = (Instant::now(), Tally::default());
    while AT_THE_BENCH.get() < hours * 3600.0 {
        let case = Account::sequential_strategy(STEPS).new_tree(&mut runner).unwrap();
        let (account, steps, _) = case.current();
        tally.count(account.clone(), &steps);
        if let Some((why, steps)) = shortest_failing(&mut runner, case) {
            println!("in story {}, of which the shortest is\n{}", tally.stories, in_words(&steps));
            // Once more, in the open.
            Soak::test_sequential(Config::default(), account, steps, None);
            panic!("{why}, and not when it is told again");
        }
    }
    println!(
        "{:.2} hours at the bench in {:.0} s, {} stories of {} steps, each held against the second account, {} records good: {:?}",
        AT_THE_BENCH.get() / 3600.0,
        begun.elapsed().as_secs_f64(),
        tally.stories,
        tally.steps,
        GOOD.get(),
        tally.done
    );
    assert!(GOOD.get() > 0, "no record was ever good");
    for kind in KINDS.into_iter().chain([Tally::REFUSED]) {
        assert!(tally.done.contains_key(kind), "{kind} never happened");
    }
}

/// A story of so many steps in which an account that forgets this rule is wrong, and why it is.
fn found_out(forgotten: Rule, steps: RangeInclusive<usize>, shortened: Shortened) -> (String, Vec<Step>) {
    let stories = Sequential::new(
        steps.into(),
        move || Just(Account::new(Rules::without(forgotten))).boxed(),
        Account::preconditions,
        Account::transitions,
        <Account as ReferenceStateMachine>::apply,
    );
    let mut runner = runner(1, shortened);
    let mut told = || {
        let case = stories.new_tree(&mut runner).unwrap();
        shortest_failing(&mut runner, case)
    };
    let (why, steps) = (0..100).find_map(|_| told()).unwrap_or_else(|| panic!("{forgotten:?} is forgotten unnoticed"));
    println!("{forgotten:?}: {why}\n{}", in_words(&steps));
    (why.message().to_owned(), steps)
}

/// The shortest one: however busy the machine is, it is the same.
fn shortest(forgotten: Rule) -> (String, Vec<Step>) {
    found_out(forgotten, 8..=16, (10_000, 0))
}

#[test]
fn an_account_that_forgets_a_rule_is_found_out_by_a_story_of_three_steps() {
    let (why, steps) = shortest(Rule::EndPointsMoveEnds);
    let [Step::NewSetup, Step::Capture(_, wish), Step::Turn(_, turned)] = &steps[..] else {
        panic!("not the shortest:\n{}", in_words(&steps))
    };
    assert!(turned.starts_with(wish.what.split(' ').next().unwrap()) && turned.contains("end point"), "{turned}");
    assert!(why.contains("stale"), "{why}");
}

#[test]
fn an_account_that_forgets_what_is_doubtful_is_found_out_too() {
    // What is done at most, besides beginning setups.
    for (forgotten, most, because) in
        [(Rule::EndsNeedANeutral, 1, "its neutral is asked for"), (Rule::PartsAreDivided, 2, "should be")]
    {
        let (why, steps) = shortest(forgotten);
        let done = steps.iter().filter(|step| **step != Step::NewSetup).count();
        assert!(done <= most, "{forgotten:?}: not the shortest:\n{}", in_words(&steps));
        assert!(why.contains(because), "{forgotten:?}: {why}");
    }
}

#[test]
fn an_account_that_forgets_by_what_is_judged_is_found_out_as_well() {
    for (forgotten, of) in [
        (Rule::SweepsContradict, "verdict"),
        (Rule::BindsStopFullStick, "verdict"),
        (Rule::TailStands, "rudder"),
        (Rule::CollectiveIsPitch, "collective"),
        (Rule::HalfTurnsTellTheZero, "blade"),
    ] {
        let (why, _) = found_out(forgotten, STEPS, (1, 0));
        assert!(why.contains(of), "{forgotten:?}: {why}");
    }
}

/// Whether each is found out, and with these words.
fn all_found_out(forgotten: &[(Rule, &[&str])]) {
    for (forgotten, of) in forgotten {
        let (why, _) = found_out(*forgotten, 12..=30, (1, 0));
        assert!(of.iter().any(|of| why.contains(of)), "{forgotten:?}: {why}");
    }
}

#[test]
fn an_account_that_forgets_what_was_moved_is_found_out() {
    all_found_out(&[
        (Rule::PartsMoveBlades, &["stale"]),
        // What it holds for stale, or holds though it is: the one or the other is found first.
        (Rule::TailServoIsNamed, &["setup"]),
        (Rule::NewPartsHangAnew, &["droop"]),
        (Rule::CornersHaveAxes, &["corner"]),
        (Rule::TurnsAreTakenBack, &["setup"]),
    ]);
}

#[test]
fn an_account_that_forgets_how_what_is_measured_at_will_is_worked_out_is_found_out() {
    all_found_out(&[
        (Rule::OnePlaneShowsNoBend, &["spindle"]),
        (Rule::NewestCheckCounts, &["spindle"]),
        (Rule::NewPartsEndAPool, &["spindle"]),
        (Rule::CornersAddUp, &["corner"]),
        (Rule::PointsHaveEndPoints, &["collective"]),
    ]);
}

/// Why an account with these rules is wrong about that story.
fn wrong(rules: Rules, steps: &[Step]) -> Option<String> {
    let tell = || Soak::test_sequential(Config::default(), Account::new(rules), steps.to_vec(), None);
    let why = quietly(|| catch_unwind(AssertUnwindSafe(tell))).err()?;
    Some(why.downcast_ref::<String>().cloned().or_else(|| why.downcast_ref::<&str>().map(ToString::to_string)).unwrap())
}

#[test]
fn an_account_that_forgets_what_is_owed_is_found_out() {
    all_found_out(&[(Rule::CrashOwesAll, &["owe"]), (Rule::SkipsAreTakenBack, &["left out"])]);
}

#[test]
fn an_account_that_forgets_what_is_good_is_found_out() {
    // On the second head nothing is past its ceiling.
    let told = |what: &[Step]| [&[Step::NewSetup, Step::NewSetup], what, &[Step::TryTheWanted(Which::Open)]].concat();
    // What nobody owes, and was left out nevertheless.
    let place = Place::Main { blade: 'A', station: 90.0 };
    let neutral =
        Wish { what: "elevator neutral", place, forward: true, stick: 0.0, bound: false, again: false, from: None };
    let from = |side| Step::Capture(Which::Open, Wish { from: Some(side), ..neutral });
    let approached = [from(Side::Below), from(Side::Above), Step::Turn(Which::Open, "elevator trim 3 %")];
    let left_out = told(&[&approached[..], &[Step::LeaveOut(Which::Open, "blade A slop", 0)]].concat());
    assert_eq!(wrong(Rules::ALL, &left_out), None);
    assert_eq!(GOOD.get(), 0, "a record is good with something left out");
    let why = wrong(Rules::without(Rule::LeftOutIsNotGood), &left_out).expect("nobody knows that it was left out");
    assert!(why.contains("good"), "{why}");
    assert_eq!(wrong(Rules::ALL, &told(&approached)), None);
    assert!(GOOD.get() > 0, "the same record with nothing left out is good");
    all_found_out(&[(Rule::BoundMayGoOn, &["good"])]);
}
