//! A sensor on each blade, and each on the other's: the whole job all the same, since it is asked about and put right.

use clinoblade::bench::conductor::Sheet;
use clinoblade::guide::{Act, Instruction, Phase, Question};
use clinoblade::record::Head;
use support::conductor::{Bench, as_told, asks, is_done};

const SCENARIO: &str = "seed = 4
head = { cyclic_deg = 9.0, pitch_arm_mm = 20.0, station_deg = 90.0 }
blades = { link_error_deg = [0.2, -0.25], droop_deg = [-1.0, -1.2] }
tail = { travel_deg = 28.0, neutral_deg = 4.0 }
sensor = { noise_density_ug_rthz = 150.0 }
clip = { cable_pull_deg = 0.04 }
";

async fn begun() -> Bench {
    let text = Head::template("Workshop trainer").replace("# positive = \"right\"", "positive = \"right\"");
    let head = Head::from_toml(&text.replace("pitch_arm_mm = 12.0", "pitch_arm_mm = 20.0")).unwrap();
    let bench = Bench::with_sensors(SCENARIO, head, &["A", "B", "tail"]).await;
    bench.arm().await;
    bench
}

/// Each of the two sensors goes to the blade of the other, or back to its own.
async fn put(bench: &Bench, exchanged: bool) {
    let on = if exchanged { ["B", "A"] } else { ["A", "B"] };
    for (at, blade) in on.into_iter().enumerate() {
        bench.head.tell_one(at, &format!("clip {blade} forward")).await;
    }
}

/// Plays to the end; where it is asked, the sensors are put right and the place begins again. How often it was asked.
async fn to_the_end(bench: &Bench) -> usize {
    let mut asked = 0;
    loop {
        let sheet = bench.play(as_told, |sheet| asks(sheet) || is_done(sheet)).await;
        if is_done(&sheet) {
            assert!(sheet.complete, "{:#?}", sheet.cells);
            return asked;
        }
        let Instruction::Answer { question } = sheet.step.instruction else { panic!("{:#?}", sheet.step) };
        assert!(matches!(question, Question::Contradicted { own_sensors: true, .. }), "{question:?}");
        asked += 1;
        assert!(asked < 5, "it is put right, and asked again and again");
        put(bench, false).await;
        bench.act(Act::Answer { choice: 0 }).await;
    }
}

fn value(sheet: &Sheet, name: &str) -> (f64, f64) {
    let name = name.parse().unwrap();
    let cell = sheet.cells.iter().find(|cell| cell.cell == name).unwrap();
    (cell.value_deg.unwrap(), cell.expanded_deg.unwrap())
}

/// Both blades as the simulated head has them, each at the same place.
async fn is_right(bench: &Bench) {
    for centre in ["elevator 0", "aileron 0", "rudder 0", "collective 50"] {
        bench.head.tell(&format!("stick {centre}")).await;
    }
    let mut zeros = Vec::new();
    for turn in ["head 90", "head 270"] {
        bench.head.tell(turn).await;
        bench.head.tell("wait 3").await;
        zeros.push(bench.head.truth().await.blades[zeros.len()].pitch_deg.degrees());
    }
    let sheet = bench.sheet();
    for (name, truth) in [("blade A zero", zeros[0]), ("blade B zero", zeros[1]), ("track B - A", zeros[1] - zeros[0])]
    {
        let (value, expanded) = value(&sheet, name);
        assert!((value - truth).abs() <= 1.5 * expanded, "{name}: {value} ± {expanded}, but truly {truth}");
    }
}

#[tokio::test]
async fn sensors_that_are_exchanged_from_the_beginning_leave_no_wrong_value() {
    let bench = begun().await;
    put(&bench, true).await;
    assert!(to_the_end(&bench).await >= 1, "it was asked about");
    is_right(&bench).await;
}

#[tokio::test]
async fn sensors_that_are_exchanged_half_way_leave_no_wrong_value() {
    let bench = begun().await;
    let half_way = |sheet: &Sheet| {
        let captured = sheet.cells.iter().filter(|cell| cell.value_deg.is_some()).count();
        sheet.step.phase == Phase::Place && captured >= 4
    };
    bench.play(as_told, half_way).await;
    put(&bench, true).await;
    assert!(to_the_end(&bench).await >= 1, "it was asked about");
    is_right(&bench).await;
}

#[tokio::test]
async fn sensors_that_stay_where_they_belong_are_not_asked_about() {
    let bench = begun().await;
    assert_eq!(to_the_end(&bench).await, 0);
    is_right(&bench).await;
}
