//! Which pitch links to turn, and why none is to be turned yet.

use super::unsettled::undecided;
use super::{Face, Say, angle, sentence, size, with_uncertainty};
use clinoblade_record::{BladeLink, LinkSurvey, LinkSurveyError};

impl Say for LinkSurveyError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::NoCaptures => format!(
                "No blade was read at mid stick since its link was last turned. Capture collective mid on each blade, at one \
                 station{}.",
                face.command(": `clinoblade capture collective mid --blade A` and so on", "")
            ),
            Self::NotRead(blade) => {
                let typed = format!(": `clinoblade capture collective mid --blade {blade}`");
                format!(
                    "Blade {blade} was not read at mid stick since its link was last turned. Capture collective mid on \
                     it{}.",
                    face.command(&typed, "")
                )
            }
            Self::LeanUnknown { blade, station } => {
                let typed =
                    format!(": `clinoblade capture collective mid --blade {blade} --station {}`", f64::from(*station));
                format!(
                    "Do not turn a link yet: blade {blade} was read at one station only, so the lean of model and swashplate is in \
                     it. Leave the clip on, turn the head half round and read blade {blade} at {station} too{}.",
                    face.command(&typed, "")
                )
            }
            Self::PlateNotLevel { questioned: false } => {
                "Do not turn a pitch link yet: the swashplate does not stand level at stick centre, and no pitch link can mend that. Level \
                 it first, with a servo's link or its sub-trim, then read the zeros again."
                    .to_owned()
            }
            Self::PlateNotLevel { questioned: true } => {
                "Do not turn a pitch link yet: the swashplate may not stand level at stick centre, and no pitch link can mend that. Read \
                 blade A at 0°, 90°, 180° and 270° with the clip left on first."
                    .to_owned()
            }
            Self::PlateUntold(by) => format!(
                "Do not turn a pitch link yet: the swashplate may not stand level at stick centre, and no pitch link can mend that. {}",
                undecided(by, face)
            ),
            Self::ZeroUnknown { blade, expanded, remedy } => format!(
                "Do not turn a link yet: the zero of blade {blade} is only good to ± {:.1}°. {}.",
                expanded.degrees(),
                sentence(&remedy.say(face))
            ),
        }
    }
}

/// Which links to turn, a line each, and what that rests on.
#[must_use]
pub fn links(survey: &LinkSurvey) -> String {
    let mut lines: Vec<String> = survey.blades.iter().map(|link| blade_line(survey, link)).collect();
    let split = survey.split_then().zip(survey.split_expanded());
    lines.extend(split.map(|(split, expanded)| format!("The blades then differ by about {}.", size(split, expanded))));
    lines.push(match survey.geometry.measured {
        Some(measured) => {
            format!("A half-turn moves a blade by {}, as measured.", size(measured.raises, measured.u * 2.0))
        }
        None => format!(
            "A half-turn moves a blade by {:.2}°, by the thread and the arm of {} mm in the description.",
            survey.geometry.per_half_turn(survey.to).degrees(),
            survey.geometry.arm.value()
        ),
    });
    lines.extend(survey.too_coarse().map(|off| {
        format!(
            "From one seat to the next is {:.2}°, so the nearest may leave a blade up to {:.2}° off, more than the {:.2}° that is \
             wanted. Only a finer thread or a longer arm brings it nearer.",
            2.0 * off.degrees(),
            off.degrees(),
            survey.tolerance.degrees()
        )
    }));
    if survey.contradicted {
        lines.push(CONTRADICTED.to_owned());
    }
    if survey.lengthening.is_none() {
        lines.push(NO_LENGTHENING.to_owned());
    }
    lines.join("\n")
}

const CONTRADICTED: &str = "The description says the opposite of what was measured when a link was turned, and what was measured \
                            counts. Correct `lengthening` in the description, or check which way the half-turns were recorded.";
const NO_LENGTHENING: &str = "Nobody has said whether a longer link raises or lowers the pitch: turn one link by one half-turn, \
                              look, and put it into the description (`lengthening`).";

fn blade_line(survey: &LinkSurvey, link: &BladeLink) -> String {
    let now = with_uncertainty(link.advice.now, link.now.expanded().expanded);
    let turn = survey.turn(link);
    let next = link.advice.next_best.map_or_else(String::new, |next| {
        let turns = survey.half_turns(next.half_turns).say(Face::Terminal);
        format!(" (Next best: {turns}, which leaves {}.)", angle(next.pitch, 2))
    });
    let recorded =
        turn.adjustment().map_or_else(String::new, |adjustment| format!(" Then `clinoblade adjust {adjustment}`."));
    format!("Blade {} stands at {now}. {}{next}{recorded}", link.blade, turn.say(Face::Terminal))
}
