//! What is said of an unknown sensor.

use super::{Evidence, Face, Identity, Parity, Say, Seen, Verdict};
use crate::one_line;

/// While it listens.
#[must_use]
pub fn listening(path: &str) -> String {
    format!("Listening on {path}. Let the sensor lie still.")
}

/// A saved source that is no serial port.
#[must_use]
pub fn no_port() -> String {
    "The default sensor is not on a serial port. Name the port with --port.".to_owned()
}

/// What fits: the options that read it, whether it is on a port, and whether its parity is another than its profile's.
#[must_use]
pub fn fits(fits: &Evidence, on_a_port: bool, other_parity: bool, options: &str) -> String {
    let profile = &fits.profile;
    let parity = match profile.parity() {
        Parity::None => String::new(),
        parity => format!(", {}", parity.say(Face::Terminal)),
    };
    let place = if on_a_port { format!(" at {} baud{parity}", profile.baud()) } else { String::new() };
    let mut lines =
        vec![format!("{} fits{place}.", one_line(profile.name())), format!("  {}.", fits.say(Face::Terminal))];
    lines.extend(profile.limits().iter().map(|limit| format!("  {}", limit.say(Face::Terminal))));
    if other_parity {
        lines.push(
            "  Its parity differs from the built-in profile. Save it in a file: `clinoblade sensor profile new`."
                .to_owned(),
        );
    }
    lines.push(format!("Use it: clinoblade read {options}"));
    lines.join("\n")
}

/// Nothing fits.
#[must_use]
pub fn nothing_fits(identity: &Identity) -> String {
    match &identity.verdict {
            Verdict::Mixed(several) => {
                let kinds: Vec<String> = several.iter().map(|one| format!("  {}", one.say(Face::Terminal))).collect();
                format!(
                    "No profile fits: frames of several kinds come on one line.\n{}\nIs more than one sensor connected to it, or does the board \
                     also print text for people?",
                    kinds.join("\n")
                )
            }
            Verdict::Silent => "No data at any line speed, and no slave answered. Check that the sensor is powered, its wires are firm, and \
                                this is the right port."
                .to_owned(),
            Verdict::Fits(_) | Verdict::NoneFits => none_fits(&identity.seen),
        }
}

fn none_fits(all: &[Seen]) -> String {
    let mut lines = vec!["No profile fits. This was seen:".to_owned()];
    for seen in all.iter().filter(|seen| seen.bytes > 0) {
        let place = if seen.baud > 0 { format!("at {} baud ", seen.baud) } else { String::new() };
        let kind = if seen.is_text { "readable text" } else { "not text" };
        lines.push(format!("  {place}{} bytes, {kind}: {}", seen.bytes, seen.shown));
        lines.extend(seen.refusal.iter().map(|refusal| format!("    {}", refusal.say(Face::Terminal))));
        lines.extend(seen.evidence.iter().map(|evidence| format!("    like {}", evidence.say(Face::Terminal))));
    }
    let evidence = || all.iter().flat_map(|seen| &seen.evidence);
    lines.push(if evidence().any(|one| one.at_the_end.is_some()) {
            "Turn the sensor so that no axis is at its end, and try again. If one stays there, set a larger range, or the sensor is broken."
                .to_owned()
        } else if evidence().any(|one| one.has_the_form() && one.gravity.value() == 0.0) {
            "The format is right, but the sensor measures nothing. Check its wiring and supply, then power it off and on.".to_owned()
        } else if all.iter().any(|seen| seen.is_text) {
            "Readable text means that the line speed is right. Make a profile of it: `clinoblade sensor profile new --out NAME.toml`."
                .to_owned()
        } else {
            "If it is a binary sensor, look for frames in what it sends: `clinoblade sensor profile new --out NAME.toml`.".to_owned()
        });
    lines.join("\n")
}
