//! A neutral that stands far from the others of its place: the stick was not at its centre, or another place was read.

use super::capture::{Answered, Capture};
use super::finding::Question;
use super::head::Head;
use super::setup::Entry;
use super::timeline::{Dated, Timeline};

/// Two neutrals of one place that differ by so much are not of one stick position. [common practice, no source]
const APART_DEGREES: f64 = 2.0;

/// What to ask about a neutral: it contradicts another of its place against the same zero, none bears it out, and the person
/// has not said that it is right.
pub(super) fn question(timeline: &Timeline<'_>, neutral: &Dated<'_>) -> Option<Question> {
    if neutral.capture.answers(Answered::NeutralMoved) {
        return None;
    }
    let angle = neutral.capture.reading.angle;
    let others = || {
        let beside = timeline.neutrals_at(neutral.subject(), neutral.capture.clip);
        beside.filter(|n| n.order != neutral.order && n.is_fresh() && n.is_comparable(neutral))
    };
    let off = |n: &Dated<'_>| angle - n.capture.reading.angle;
    let is_apart = |n: &Dated<'_>| off(n).abs().degrees() >= APART_DEGREES;
    let borne_out = others().any(|n| !is_apart(n));
    // One of which the person has said that it is right bears others out, and speaks against none.
    let speaks = |n: &&Dated<'_>| is_apart(n) && !n.capture.answers(Answered::NeutralMoved);
    let contradicted = others().rfind(speaks).filter(|_| !borne_out)?;
    Some(Question::NeutralMoved { deflection: neutral.subject().deflection(), by: off(contradicted) })
}

/// The same about a capture that was just made.
#[must_use]
pub fn neutral_question(head: &Head, entries: &[Entry], capture: &Capture) -> Option<Question> {
    let timeline = Timeline::on(head, entries);
    let neutral = timeline.all().find(|d| d.capture.id == capture.id && d.subject().deflection().is_neutral())?;
    question(&timeline, neutral)
}
