//! A line of which most comes damaged: it is said before anything that is read over it, and no longer when it is whole again.

use clinoblade::bench::conductor::LinkState;
use clinoblade::record::Head;
use support::conductor::Bench;

#[tokio::test]
async fn a_line_that_damages_most_frames_is_named_first_until_it_is_whole_again() {
    let head = Head::from_toml(&Head::template("Workshop trainer")).unwrap();
    let bench = Bench::new("seed = 4\nsensor = { noise_density_ug_rthz = 150.0 }", head).await;
    let said = async || {
        bench.head.tell("wait 6").await;
        let link = bench.sheet().link.clone();
        assert_eq!(link.state, LinkState::Reading);
        link.said
    };
    assert_eq!(said().await, "", "a good line");
    bench.head.damage(3).await;
    let warning = said().await;
    assert!(warning.contains("frames came damaged (6"), "{warning}");
    bench.head.damage(1).await;
    assert_eq!(said().await, "", "it is whole again");
}
