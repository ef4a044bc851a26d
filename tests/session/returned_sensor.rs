//! A cable that is out and in again, and what is then at its end: the same sensor, or another one.

use clinoblade::guide::Phase;
use clinoblade::record::Head;
use support::conductor::{Bench, as_told};

fn scenario(sensor: &str) -> String {
    format!(
        "seed = 4
head = {{ cyclic_deg = 9.0, pitch_arm_mm = 20.0, station_deg = 90.0 }}
blades = {{ link_error_deg = [0.2, -0.25], droop_deg = [-1.0, -1.2] }}
stream = {{ temperature = true }}
sensor = {{ {sensor} }}
clip = {{ cable_pull_deg = 0.04 }}
"
    )
}

const SENSOR: &str = "noise_density_ug_rthz = 150.0, tempco_mg_per_c = [0.3, -0.3, 0.3]";

fn head() -> Head {
    let text = Head::template("Workshop trainer");
    let text = text.replace("# positive = \"right\"", "positive = \"right\"");
    Head::from_toml(&text.replace("pitch_arm_mm = 12.0", "pitch_arm_mm = 20.0")).unwrap()
}

/// What is said in the place of an angle, once the sensor is back and has rested.
async fn said_after(bench: &Bench) -> Option<String> {
    bench.head.tell("wait 8").await;
    bench.conductor.live().borrow().as_ref().expect("it reads again").said.clone()
}

/// Blade A at its first end, its neutral captured.
async fn at_the_first_end() -> Bench {
    let bench = Bench::with_plug(&scenario(SENSOR), head()).await;
    bench.arm().await;
    let at_up = |sheet: &_| at(sheet, Phase::Move, "elevator up");
    bench.play(as_told, at_up).await;
    bench.head.tell("wait 4").await;
    bench.head.tell("unplug").await;
    bench.head.tell("wait 2").await;
    bench
}

fn at(sheet: &clinoblade::bench::conductor::Sheet, phase: Phase, cell: &str) -> bool {
    sheet.step.phase == phase && sheet.step.cell.as_deref() == Some(cell)
}

#[tokio::test]
async fn another_sensor_on_the_same_port_is_asked_about_before_anything_is_captured() {
    // Gravity is off by a hundredth; or only the noise is another's.
    for other in [
        "noise_density_ug_rthz = 150.0, offset_mg = [0.0, 0.0, 11.0]",
        "noise_density_ug_rthz = 150.0, scale_percent = [-1.2, -1.2, -1.2]",
        "noise_density_ug_rthz = 500.0",
    ] {
        let bench = at_the_first_end().await;
        let captured = bench.sheet().cells.iter().filter(|cell| cell.value_deg.is_some()).count();
        bench.head.exchange(&scenario(other), &["clip A forward", "head 90"]).await;
        let said = said_after(&bench).await.unwrap_or_else(|| panic!("{other}: nothing is said"));
        assert!(said.contains("not the one that was unplugged"), "{other}: {said}");
        bench.head.tell("wait 5").await;
        let after = bench.sheet().cells.iter().filter(|cell| cell.value_deg.is_some()).count();
        assert_eq!(after, captured, "{other}: something was captured");
        // Its blade moves: so it sits there, and the person has been told.
        bench.head.tell("stick collective 100 over 0.5").await;
        bench.head.tell("wait 2").await;
        assert_eq!(bench.conductor.live().borrow().as_ref().unwrap().said, None, "{other}");
    }
}

#[tokio::test]
async fn the_same_sensor_is_not_asked_about_however_it_comes_back() {
    for meanwhile in
        [&["wait 1"][..], &["temperature 31"], &["temperature 19", "clip B forward over 0.8", "head 270 over 0.8"]]
    {
        let bench = at_the_first_end().await;
        for line in meanwhile {
            bench.head.tell(line).await;
        }
        bench.head.tell("replug").await;
        assert_eq!(said_after(&bench).await, None, "{meanwhile:?}");
        // And a second time.
        bench.head.tell("unplug").await;
        bench.head.tell("wait 1").await;
        bench.head.tell("replug").await;
        assert_eq!(said_after(&bench).await, None, "{meanwhile:?}");
    }
}
