//! A piece of a long day at the bench: every line is counted for what it was, and nothing piles up. The whole day is
//! `cargo bench --bench soak_stream`.

use support::place::child;
use support::soak::soak;

/// In a process of its own: the memory that is looked at is that of the whole process.
#[test]
fn an_hour_with_one_line_in_a_hundred_damaged_is_counted_exactly_and_keeps_no_memory() {
    let output = child("soak::child_an_hour").output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success() && said.contains("1 passed"), "{said}");
}

#[tokio::test]
#[ignore = "the child of the other test"]
async fn child_an_hour() {
    let soaked = soak(1.0, 1).await;
    assert!(soaked.is_exact(), "{soaked:?}");
    assert_eq!(soaked.sent.lines, 1_440_000);
    let share = soaked.sent.damaged as f64 / soaked.sent.lines as f64;
    assert!((0.0095..0.0105).contains(&share), "one in a hundred: {share}");
    if let Some(growth) = soaked.growth() {
        assert!(growth < 4096, "{growth} KiB more at the end: {:?}", soaked.memory);
    }
}
