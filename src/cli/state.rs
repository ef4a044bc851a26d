//! `clinoblade` alone: where things stand, on one screen.

use super::equipment::Own;
use super::source::SourceArgs;
use super::{CliError, Common, Outcome, Output};
use crate::bench::{Next, SensorKind, State, WorkshopError};
use crate::words::{Face, Say, workshop as words};

/// Prints it; nothing that is missing makes it fail.
pub(super) async fn run(common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let own = Own::new(SourceArgs::default(), common.clone(), *output);
    let state = State::of(&own).await.map_err(|error| match error {
        WorkshopError::Logbook(error) => error.into(),
        other => CliError::Use(other.say(Face::Terminal)),
    })?;
    output.answer(&state, &text(&state))?;
    Ok(Outcome::Done)
}

fn text(state: &State) -> String {
    let sensor = &state.sensor;
    let said = if sensor.kind == SensorKind::Found { words::found_in_terminal() } else { &sensor.said };
    let mut lines = vec![words::state_line("sensor", &words::sensor_line(sensor.source.as_deref(), said))];
    lines.extend(sensor.known.iter().map(|known| words::state_line("", known)));
    if state.helicopters.is_empty() {
        lines.push(words::state_line("helicopter", words::NO_HELICOPTER));
    }
    for (at, helicopter) in state.helicopters.iter().enumerate() {
        let name = if at == 0 { "helicopter" } else { "" };
        lines.push(words::state_line(name, &words::setups_of(&helicopter.name, helicopter.setups)));
    }
    let open = state.open.as_ref().map(|open| words::open_setup(open.stands.number, &open.head, &open.stands.said));
    lines.push(words::state_line("setup", open.as_deref().unwrap_or(words::NONE_OPEN)));
    lines.push(
        words::next_in_terminal(match state.next {
            Next::NewHelicopter => words::Todo::NewHelicopter,
            Next::Begin => words::Todo::Begin,
            Next::GoOn => words::Todo::GoOn,
            Next::Close => words::Todo::Close,
            Next::Sensor => words::Todo::Sensor,
        })
        .to_owned(),
    );
    lines.join("\n")
}
