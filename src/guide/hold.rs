//! The stick: at neutral, moved, held, backed off, let go.

use super::flow::{BACK_DEGREES, Guide, MOVED_DEGREES};
use super::order::LineState;
use super::question::Question;
use super::seen::{Moment, Rest};
use super::stage::{Hold, Stage, Then, still};
use super::{Mark, Side, Spoken, Tone};
use crate::record::LimitedBy;
use crate::record::trade::TWO_RESTS;
use crate::uncertainty::Target;
use crate::units::{Angle, Seconds};

/// Two rests of one hold are no further apart.
const SAME_DEGREES: f64 = 0.3;
/// A buzz that is seen for so long is one.
const SURELY_BUZZES: Seconds = Seconds::new(0.2);
/// A stick that was backed off leaves the blade at least so far from where it buzzed.
const BACKED_OFF_DEGREES: f64 = 0.2;
/// Full again: at least this share of what was captured, so soon after it was back.
const FULL_AGAIN: f64 = 0.7;
const AT_ONCE: Seconds = Seconds::new(1.5);
/// A stick that goes so much further was not at its end.
const FURTHER_DEGREES: f64 = 0.6;
/// Waited for so long, a movement is not coming: a stick that does nothing, a blade that does not come back.
const NOT_COMING: Seconds = Seconds::new(25.0);
const NOT_BACK: Seconds = Seconds::new(12.0);
/// The tone spans so many degrees before the target.
const TONE_DEGREES: f64 = 10.0;

impl Guide {
    pub(super) fn rest_at_neutral(&mut self, rest: &Rest) {
        let Some(is_neutral) = self.line().map(|line| line.deflection().is_neutral()) else { return };
        if rest.at.buzzes {
            self.say(Spoken::BuzzesAtNeutral);
        }
        let then = if is_neutral { Then::Next } else { Then::Move };
        if let Some(neutral) = self.neutral() {
            self.capture(neutral, LimitedBy::EndPoint, then);
        }
    }

    pub(super) fn moment_held(&mut self, at: Moment) {
        let Some(travel) = self.travel(at) else { return };
        if travel.degrees() > MOVED_DEGREES {
            if self.stage == Stage::Move {
                self.stage = Stage::Hold(Hold::default());
            }
            self.tone(tone(self.target_of_travel(), travel));
            self.watch_for_creep(at.clock, travel);
            self.watch_for_a_buzz(at, travel);
        } else if matches!(self.stage, Stage::Hold(_)) && travel.degrees() < BACK_DEGREES {
            self.stage = Stage::Move;
            // What was said of the hold was said of that one.
            (self.bound, self.by_hand, self.waits_from) = (false, false, None);
            self.tone(None);
        }
    }

    /// A blade that goes on moving by itself is named, once a hold.
    fn watch_for_creep(&mut self, clock: Seconds, travel: Angle) {
        let Stage::Hold(hold) = &mut self.stage else { return };
        if hold.creep.look(clock, travel) && !std::mem::replace(&mut hold.creeps, true) {
            self.say(Spoken::Creeps);
        }
    }

    /// A servo that buzzes is not held until the blade has rested: it is let go as soon as that is sure.
    fn watch_for_a_buzz(&mut self, at: Moment, travel: Angle) {
        let Stage::Hold(hold) = &mut self.stage else { return };
        if !at.buzzes {
            hold.buzzes_from = None;
        } else if at.clock - *hold.buzzes_from.get_or_insert(at.clock) >= SURELY_BUZZES {
            self.let_go(travel);
        }
    }

    fn let_go(&mut self, travel: Angle) {
        self.mark(Mark::LetGo);
        self.tone(None);
        self.say(Spoken::Buzzes);
        self.stage = Stage::BackOff(travel);
    }

    /// Full, back, and full again at once: the last one was wrong. So it was where the stick goes on instead of back: it was
    /// only resting on its way.
    pub(super) fn moment_returning(&mut self, at: Moment) {
        let Some(moved) = self.moved(at) else { return };
        let Stage::Return(going) = &mut self.stage else { return };
        let further = moved.radians() * going.full.radians() > 0.0
            && moved.abs().degrees() > going.full.abs().degrees() + FURTHER_DEGREES;
        if further && going.back_at.is_none() {
            let full = going.full;
            self.say(Spoken::GoesFurther);
            self.take_back(false, full);
            return;
        }
        let full = moved.radians() * going.full.radians() > 0.0 && moved.abs() > going.full.abs() * FULL_AGAIN;
        if moved.abs().degrees() < MOVED_DEGREES {
            going.back_at = Some(at.clock);
        } else if full && going.back_at.is_some_and(|back| at.clock - back < AT_ONCE) {
            let full = going.full;
            self.take_back(false, full);
        }
    }

    pub(super) fn rest_held(&mut self, rest: &Rest) {
        let Some(travel) = self.travel(rest.at) else { return };
        if travel.degrees() < -MOVED_DEGREES {
            self.the_other_way();
            return;
        }
        if travel.degrees() < MOVED_DEGREES {
            let waits_from = *self.waits_from.get_or_insert(rest.from);
            let way = self.line().map(|line| line.deflection());
            if let Some(way) = way.filter(|_| rest.at.clock - waits_from > NOT_COMING) {
                self.ask(Question::StandsStill { way });
            }
            return;
        }
        if self.stage == Stage::Move {
            self.stage = Stage::Hold(Hold::default());
        }
        if rest.at.buzzes {
            self.let_go(travel);
            return;
        }
        let held = {
            let Stage::Hold(hold) = &mut self.stage else { return };
            still(&mut hold.still_from, &mut hold.last, rest, Angle::from_degrees(SAME_DEGREES))
        };
        let inside = self.target_of_travel().is_none_or(|target| target.margin(travel) > Angle::ZERO);
        let end = if self.bound { LimitedBy::Bind } else { LimitedBy::EndPoint };
        if inside || self.by_hand || self.bound {
            self.capture_end(end);
        } else if held >= TWO_RESTS {
            self.outside(travel);
        }
    }

    pub(super) fn capture_end(&mut self, limited_by: LimitedBy) {
        if let Some(deflection) = self.line().map(|line| line.deflection()) {
            self.capture(deflection, limited_by, Then::Return);
        }
    }

    /// It stands outside of what is wanted, and stays there.
    fn outside(&mut self, travel: Angle) {
        let Some(line) = self.line() else { return };
        let (deflection, Some(target)) = (line.deflection(), self.target_of_travel()) else { return };
        let short = travel < target.value();
        self.ask(Question::Outside { way: deflection, travel_deg: travel, target, short });
    }

    fn the_other_way(&mut self) {
        let Some(line) = self.line() else { return };
        let (deflection, seat) = (line.deflection(), line.seat);
        let other = self.lines.iter().find(|other| {
            let opposite = other.deflection() != deflection && !other.deflection().is_neutral();
            other.deflection().axis() == deflection.axis() && opposite && other.seat == seat
        });
        let instead =
            other.filter(|other| other.state != LineState::Captured).map(|other| (other.id, other.deflection()));
        self.ask(Question::OtherWay { way: deflection, instead });
    }

    pub(super) fn rest_backed_off(&mut self, rest: &Rest) {
        let (Some(travel), Stage::BackOff(buzzed)) = (self.travel(rest.at), &self.stage) else { return };
        if travel.degrees() < MOVED_DEGREES {
            self.stage = Stage::Move;
            self.say(Spoken::WentAllTheWayBack);
        } else if rest.at.buzzes || travel.degrees() > buzzed.degrees() - BACKED_OFF_DEGREES {
            // Quiet for a moment where it buzzed is still the bind.
            self.mark(Mark::LetGo);
        } else {
            self.capture_end(LimitedBy::Bind);
        }
    }

    pub(super) fn rest_returned(&mut self, rest: &Rest) {
        let Some(moved) = self.moved(rest.at) else { return };
        if moved.abs().degrees() < BACK_DEGREES {
            self.waits_from = None;
            if let Some(neutral) = self.neutral() {
                self.capture(neutral, LimitedBy::EndPoint, Then::Next);
            }
        } else if rest.at.clock - *self.waits_from.get_or_insert(rest.from) > NOT_BACK {
            self.ask(Question::NotBack { off_deg: moved });
        }
    }

    /// A question about a stick that had not come, or not gone back, ends when the stick does what it was asked for.
    pub(super) fn rest_in_question(&mut self, rest: &Rest) {
        let Stage::Question(question, asked_in) = &mut self.stage else { return };
        if let Question::NoAnswer { .. } = question {
            if asked_in.check_mut().is_some_and(|check| check.swung.abs().degrees() > MOVED_DEGREES) {
                self.stage = std::mem::replace(asked_in, Stage::Done);
                self.rest_in_check(rest);
            }
            return;
        }
        let Stage::Question(question, _) = &self.stage else { return };
        let Some(off) = self.moved(rest.at).map(|moved| moved.abs().degrees()) else { return };
        let is_done = match question {
            Question::NotBack { .. } => off < BACK_DEGREES,
            Question::StandsStill { .. } => off >= MOVED_DEGREES,
            _ => false,
        };
        if !is_done {
            return;
        }
        if let Stage::Question(_, asked_in) = std::mem::replace(&mut self.stage, Stage::Done) {
            self.stage = *asked_in;
            self.waits_from = None;
        }
        if let Stage::Return(_) = self.stage { self.rest_returned(rest) } else { self.rest_held(rest) }
    }
}

/// How the tone sounds at this travel.
fn tone(target: Option<Target>, travel: Angle) -> Option<Tone> {
    let target = target?;
    let short = target.value() - travel;
    let inside = target.margin(travel) > Angle::ZERO;
    let side = match (target, inside) {
        // Under a ceiling there is no place to stop before it: the tone rises toward it.
        (Target::AtMost(_), true) => Side::Short,
        (_, true) => Side::Inside,
        _ if short > Angle::ZERO => Side::Short,
        _ => Side::Over,
    };
    Some(Tone { distance: (short.abs().degrees() / TONE_DEGREES).clamp(0.0, 1.0), side })
}
