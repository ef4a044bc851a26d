//! The computer's clock is set back, by an hour or a year, between any two steps: numbers and order are those in which
//! things happened.

use clinoblade::logbook::{Location, Logbook, NewSetup};
use clinoblade::record::{CellName, Entry, Event, LimitRecord};
use jiff::{SignedDuration, Timestamp};
use support::dice::Dice;
use support::logbook::{capture, club_setup, datum, entry, head, time};
use uuid::Uuid;

/// A clock that somebody sets.
struct Clock {
    dice: Dice,
    now: Timestamp,
}

impl Clock {
    fn tick(&mut self) -> Timestamp {
        let step = match self.dice.below(4) {
            0 => -(self.dice.below(400 * 86_400) as i64),
            1 => -3600,
            _ => 40,
        };
        self.now = self.now.checked_add(SignedDuration::from_secs(step)).unwrap();
        self.now
    }
}

#[tokio::test]
async fn entries_stay_in_the_order_in_which_they_were_recorded() {
    const SETUPS: u32 = 5;
    const ENTRIES: u32 = 40;
    let folder = tempfile::tempdir().unwrap();
    let (here, there) = (folder.path().join("club.sqlite"), folder.path().join("other.sqlite"));
    let logbook = Logbook::open(&Location::from(here.as_path())).await.unwrap();
    let mut clock = Clock { dice: Dice::new(7), now: time(0) };
    let mut back = 0;
    for number in 1..=SETUPS {
        let begun = logbook.new_setup(club_setup()).await.unwrap();
        logbook.amend_setup(begun.number, |setup| setup.started_at = clock.tick()).await.unwrap();
        let (mut ids, mut last) = (Vec::new(), clock.now);
        for at in 1..=ENTRIES {
            let now = clock.tick();
            back += u32::from(now < last);
            last = now;
            let entry = match at % 3 {
                0 => Entry { at: now, ..entry(Event::Datum { datum: datum() }) },
                _ => {
                    let mut taken = capture("elevator up");
                    taken.taken_at = now;
                    Entry::capture(taken).unwrap()
                }
            };
            assert_eq!(logbook.append(number, &entry, None).await.unwrap(), at);
            ids.push(entry.id);
        }
        let kept = logbook.setup_with_entries(number).await.unwrap();
        assert_eq!(kept.entries.iter().map(|entry| entry.id).collect::<Vec<_>>(), ids);
        assert_eq!(logbook.open_setup().await.unwrap().number, number, "the setup begun last is worked on");
    }
    let numbers: Vec<u32> = logbook.setups(None, 99).await.unwrap().iter().map(|setup| setup.number).collect();
    assert_eq!(numbers, (1..=SETUPS).rev().collect::<Vec<_>>(), "newest first");
    // The head's own list and its history go by what happened, not by what the clock said.
    let of_head: Vec<u32> =
        logbook.setups(Some("Club trainer"), 99).await.unwrap().iter().map(|setup| setup.number).collect();
    assert_eq!(of_head, numbers);
    let kept = logbook.setups_of_head("Club trainer", 3, |kept| kept).await.unwrap();
    assert_eq!(kept.iter().map(|kept| kept.setup.number).collect::<Vec<_>>(), numbers[..3]);
    assert!(kept.iter().all(|kept| kept.entries.len() as u32 == ENTRIES));
    let other = Logbook::open(&Location::from(there.as_path())).await.unwrap();
    for number in 1..=SETUPS {
        let document = logbook.export(number).await.unwrap();
        assert_eq!(other.import(std::slice::from_ref(&document)).await.unwrap()[0].setup, number);
        assert_eq!(
            other.setup_with_entries(number).await.unwrap().entries,
            logbook.setup_with_entries(number).await.unwrap().entries
        );
    }
    println!("{} entries in {SETUPS} setups, the clock set back {back} times: all in their order", SETUPS * ENTRIES);
}

/// Each cell's history is told in the order in which its captures were taken, also where one was taken back.
#[test]
fn a_cells_history_is_in_the_order_in_which_it_happened() {
    let head = head("Trainer");
    let mut entries = Vec::new();
    for hour in [9, 3, 7, 1] {
        let mut taken = capture("elevator up");
        taken.taken_at = time(0).checked_add(SignedDuration::from_hours(hour)).unwrap();
        entries.push(Entry::capture(taken).unwrap());
    }
    let ids: Vec<Uuid> = entries.iter().map(|entry| entry.id).collect();
    let reason = "the wrong stick".to_owned();
    entries.push(entry(Event::Withdrawn { capture: ids[1], reason }));
    let record = LimitRecord::new(&head, &entries);
    let cell = record.cell(CellName::Limit("elevator up".parse().unwrap())).unwrap();
    assert_eq!(cell.value.as_ref().unwrap().captures, [ids[3]], "the newest counts");
    let history: Vec<(Uuid, bool)> = cell.history.iter().map(|earlier| (earlier.id, earlier.withdrawn)).collect();
    assert_eq!(history, [(ids[0], false), (ids[1], true), (ids[2], false)]);
}

/// A setup taken up again after the clock went back: nothing is minus an hour old.
#[tokio::test]
async fn an_age_is_never_negative() {
    let bench = support::bench::Bench::with_setup();
    let logbook = Logbook::open(&Location::File(bench.logbook())).await.unwrap();
    let mut ahead = datum();
    ahead.set_at = Timestamp::now().checked_add(SignedDuration::from_hours(30)).unwrap();
    logbook.append(1, &Entry { at: ahead.set_at, ..entry(Event::Datum { datum: ahead }) }, None).await.unwrap();
    logbook.new_setup(NewSetup::of(head("Another"))).await.unwrap();
    logbook.close().await;
    let answer = bench.run(&["setup", "resume", "1", "--json"]);
    assert!(answer.code <= 1, "{answer}");
    let said = answer.json()["findings"].to_string();
    assert!(said.contains("0 minutes old") && !said.contains("-"), "{said}");
}
