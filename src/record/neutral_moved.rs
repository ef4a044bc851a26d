//! A neutral that stands far from the others of its place: the stick was not at its centre, or another place was read. And an
//! end at whose place no neutral was read: its stick may never have been moved.

use super::capture::{Answered, Capture};
use super::finding::Question;
use super::head::Head;
use super::setup::Entry;
use super::timeline::{Dated, Timeline};
use super::trade;
use super::travel::neutral_for;

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

/// What to ask about a capture that was just made: about a neutral by the others of its place, about an end by its neutral.
#[must_use]
pub fn neutral_question(head: &Head, entries: &[Entry], capture: &Capture) -> Option<Question> {
    let timeline = Timeline::on(head, entries);
    let made = timeline.all().find(|d| d.capture.id == capture.id)?;
    if made.subject().deflection().is_neutral() { question(&timeline, made) } else { lacking(&timeline, made) }
}

/// An end of a stick with a centre whose blade was not read there.
fn lacking(timeline: &Timeline<'_>, end: &Dated<'_>) -> Option<Question> {
    let axis = end.subject().deflection().axis();
    let lacks = trade::SWEPT.contains(&axis) && end.capture.reaches_the_end() && neutral_for(timeline, end).is_none();
    lacks.then(|| Question::NoNeutral { neutral: trade::neutral(axis) })
}
