//! What each command changes, and the line that answers it.

use super::mechanics::opposite;
use super::{Answer, Hands, Rig};
use crate::RigError;
use crate::attitude::ClipFit;
use crate::command::Command;
use crate::units::Seconds;
use crate::vocabulary::{Blade, Mount, Seat};
use std::fmt::Display;

/// How far hands turn the clip while they put it on, and while they lift its cable, radians.
const HANDS_ON_THE_CLIP: f64 = 0.4;
const HANDS_ON_THE_CABLE: f64 = 0.02;

/// The answer to a command, with what it was given.
fn ok<const N: usize>(command: &str, given: [&dyn Display; N]) -> String {
    given.iter().fold(format!("ok {command}"), |line, given| format!("{line} {given}"))
}

/// The same answer, with the moment at which it will be done, in seconds.
fn at(line: &str, end: f64) -> String {
    format!("{line} at {end:.3} s")
}

impl Rig {
    pub(super) fn perform(&mut self, command: Command) -> Result<Answer, RigError> {
        let now = self.now;
        let mut wait = None;
        let line = match command {
            Command::Stick { stick, to, over } => {
                let motion = &mut self.sticks[stick.index()];
                motion.go(to.value(), now, over.value(), Some(&self.scenario.operator));
                self.held = Some(stick);
                at(&ok(&stick.to_string(), [&to]), motion.end())
            }
            Command::Head { station, over } => {
                self.station.go(station.radians(), now, over.value(), None);
                at(&ok("head", [&format_args!("{station:.1}")]), self.station.end())
            }
            Command::Clip { seat, mount, over } => {
                self.handle(over, HANDS_ON_THE_CLIP);
                self.reseat(seat, mount);
                ok("clip", [&seat, &mount])
            }
            Command::Tail { edge, over } => {
                let Seat::Tail(blade) = self.seat else { return Err(RigError::NotOnTail) };
                self.handle(over, HANDS_ON_THE_CLIP);
                self.tail_edge_of_a = if blade == Blade::A { edge } else { opposite(edge) };
                ok("tail", [&blade, &edge])
            }
            Command::Cable { lifted, over } => {
                self.handle(over, HANDS_ON_THE_CABLE);
                let pull = self.scenario.clip.cable_pull_deg.radians();
                self.fit.chord_offset += pull * (f64::from(u8::from(self.cable_lifted)) - f64::from(u8::from(lifted)));
                self.cable_lifted = lifted;
                format!("ok cable {}", if lifted { "lifted" } else { "slack" })
            }
            Command::Tilt { nose, left, over } => {
                self.tilt[0].go(nose.radians(), now, over.value(), None);
                self.tilt[1].go(left.radians(), now, over.value(), None);
                ok("tilt", [&nose, &left])
            }
            Command::Spindle { to, over } => {
                self.handle(over, HANDS_ON_THE_CLIP);
                let quarters = to.map_or(self.spindle_quarters + 2, |to| (to.degrees() / 90.0).round() as u8);
                self.spindle_quarters = quarters % 4;
                to.map_or_else(|| "ok spindle turned".into(), |to| ok("spindle", [&to]))
            }
            Command::Link { blade, half_turns } => {
                let head = &self.scenario.head;
                let step = head.link_thread_mm.value() * if head.link_opposed { 1.0 } else { 0.5 };
                self.longer[blade.index()] += head.link_lengthening.sign() * step * half_turns;
                ok("link", [&blade, &half_turns])
            }
            Command::Rod { servo, half_turns } => {
                self.adjustment.rod[servo] += 0.5 * self.scenario.head.link_thread_mm.value() * half_turns;
                ok("rod", [&(servo + 1), &half_turns])
            }
            Command::Arm { servo, offset } => {
                self.adjustment.arm_offset[servo] = offset.radians();
                ok("arm", [&(servo + 1), &offset])
            }
            Command::SubTrim { servo, to } => {
                self.adjustment.sub_trim[servo] = to.radians();
                ok("subtrim", [&(servo + 1), &to])
            }
            Command::Trim { stick, to } => {
                self.trims[stick.index()] = to.value() / 100.0;
                ok("trim", [&stick, &to])
            }
            Command::EndPoint { end, to } => {
                self.endpoints[end.index()] = to.value() / 100.0;
                ok("endpoint", [&end, &to])
            }
            Command::Temperature { to, over } => {
                self.celsius.go(to.value(), now, over.value(), None);
                ok("temperature", [&to])
            }
            Command::Unplug => {
                self.plugged = false;
                self.next_sample = f64::INFINITY;
                "ok unplugged".into()
            }
            Command::Replug | Command::PowerCycle => {
                if command == Command::PowerCycle && self.plugged {
                    self.line.break_off();
                }
                if command == Command::Replug || self.plugged {
                    self.plugged = true;
                    self.power_up();
                }
                "ok sensor started".into()
            }
            Command::Damage(share) => {
                self.line.damage(share.value() / 100.0);
                ok("damage", [&share])
            }
            Command::Lose(lines) => {
                self.line.lose(lines);
                ok("lose", [&lines])
            }
            Command::Repeat(lines) => {
                self.line.repeat(lines);
                ok("repeat", [&lines])
            }
            Command::Garbage(bytes) => {
                self.line.garbage(bytes);
                ok("garbage", [&bytes])
            }
            Command::Truth => {
                // Numbers, words and lists alone: there is nothing in it that JSON cannot hold.
                serde_json::to_string(&self.truth()).unwrap_or_else(|error| format!("error {error}"))
            }
            Command::Wait(time) => {
                wait = Some(time);
                at("ok", now + time.value())
            }
            Command::Quit => {
                self.has_quit = true;
                "ok".into()
            }
        };
        self.settle();
        Ok(Answer { line, wait })
    }

    fn handle(&mut self, over: Seconds, strength: f64) {
        self.hands_on = Hands { from: self.now, to: self.now + over.value(), strength };
    }

    /// Puts the clip on anew: every seating draws its own error, and its cable hangs.
    pub(super) fn reseat(&mut self, seat: Seat, mount: Mount) {
        let clip = &self.scenario.clip;
        let spread = match seat {
            Seat::Main(_) | Seat::Tail(_) => clip.reseat_deg,
            _ => self.scenario.table.seating_deg.unwrap_or(clip.reseat_deg),
        };
        self.seat = seat;
        self.cable_lifted = false;
        self.fit = ClipFit {
            mount,
            yaw: clip.yaw_deg.radians() + clip.reseat_yaw_deg.radians() * self.hand.normal(),
            span_offset: clip.span_offset_deg.radians(),
            chord_offset: clip.chord_offset_deg.radians()
                + clip.cable_pull_deg.radians()
                + spread.radians() * self.hand.normal(),
        };
    }

    fn power_up(&mut self) {
        self.powered_at = self.now + self.scenario.stream.boot_s.value();
        self.count = 0;
        self.first = (0, 0);
        self.schedule();
    }
}
