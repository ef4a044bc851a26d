//! The swashplate of a head's description, and which servo's link to turn where the plate does not stand level.

use super::adjustment::{Adjustment, Teeth};
use super::collective::Standings;
use super::head::{Arm, Head, LinkSeat, LinkThread};
use super::setup::Entry;
use super::swash_level::plate_tilt;
use super::timeline::Timeline;
use crate::advice::SwashGeometry;
use crate::rotor::Rotation;
use crate::units::{Angle, HalfTurns, Millimetres};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Servos that need the same within half a half-turn stay together: nobody can turn a link by less.
const ALIKE_HALF_TURNS: f64 = 0.5;

/// The swashplate and the three servos that carry it, 120° apart, the first at the nose and the second left of the tail.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Swash {
    /// From the shaft to the balls of the servos' links on the plate.
    #[serde(rename = "servo_radius_mm")]
    servo_radius: Arm,
    /// From the shaft to the balls of the pitch links on the plate.
    #[serde(rename = "link_radius_mm")]
    link_radius: Arm,
    /// Thread of the servos' links.
    pub thread: LinkThread,
    /// How far ahead of its blade a pitch link meets the plate, in the direction of rotation; without it 90° less the control phase,
    /// which then is that of the pitch arms. Where the transmitter mixes the phase it is 90.
    #[serde(default, rename = "lead_deg", skip_serializing_if = "Option::is_none")]
    lead: Option<Angle>,
    /// From a servo's shaft to the ball on its horn, where it was measured.
    #[serde(default, rename = "horn_mm", skip_serializing_if = "Option::is_none")]
    horn: Option<Arm>,
    /// How finely the servos' links seat, where it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    seats: Option<LinkSeat>,
    /// Whether they have opposed threads, so that one turn moves them by two pitches, and take any fraction of it.
    #[serde(default, skip_serializing_if = "is_false")]
    turnbuckle: bool,
}

/// `serde` hands a reference.
#[expect(clippy::trivially_copy_pass_by_ref)]
const fn is_false(value: &bool) -> bool {
    !*value
}

/// Azimuths of the servos on the plate, from the nose to the left, degrees.
const SERVOS: [f64; 3] = [0.0, 120.0, 240.0];

/// One servo's link to turn so that the plate stands level.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ServoTurn {
    /// Which servo, from 1.
    pub servo: u8,
    /// Half-turns of its link, positive longer, as near as the link can be turned; none where its nearest seat is the one it has.
    pub half_turns: HalfTurns,
    /// U of what would be exact, for 95 %.
    #[serde(rename = "expanded_uncertainty_half_turns")]
    pub expanded: HalfTurns,
    /// So many teeth of its horn, where the answer is a whole number of them: then the horn sits on the wrong tooth.
    pub teeth: Option<i32>,
    /// What its sub-trim must turn its horn by instead, up positive, and U of it; none where the horn is not described.
    pub sub_trim: Option<SubTrim>,
}

/// How far a servo's horn is turned.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SubTrim {
    /// By so much, up positive.
    #[serde(rename = "by_deg")]
    pub by: Angle,
    /// U for 95 %.
    #[serde(rename = "expanded_uncertainty_deg")]
    pub expanded: Angle,
}

impl ServoTurn {
    /// How it is recorded once it was done; none where there is nothing to turn.
    #[must_use]
    pub fn adjustment(&self) -> Option<Adjustment> {
        let Self { servo, half_turns, .. } = *self;
        match self.teeth.map(Teeth::new) {
            Some(teeth) => Some(Adjustment::ServoArm { servo, teeth: Some(teeth) }),
            None => (!half_turns.is_zero()).then_some(Adjustment::SwashLink { servo, half_turns }),
        }
    }
}

/// What levels the plate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LevelPlate {
    /// The servos' links to turn; the others stay.
    pub servos: Vec<ServoTurn>,
    /// By how much the collective of every blade then changes.
    #[serde(rename = "collective_deg")]
    pub collective: Angle,
}

impl Swash {
    /// What half a turn moves a servo's ball by.
    fn half_turn(&self) -> Millimetres {
        self.thread.pitch() * if self.turnbuckle { 1.0 } else { 0.5 }
    }

    /// As near as the link can be turned; to the tenth where nobody has said how it seats.
    fn turned(&self, exactly: f64) -> HalfTurns {
        match (self.seats, self.turnbuckle) {
            (_, true) => HalfTurns::new(exactly).rounded(),
            (Some(LinkSeat::HalfTurn), _) => HalfTurns::new(exactly.round()),
            (Some(LinkSeat::FullTurn), _) => HalfTurns::new((exactly / 2.0).round() * 2.0),
            (None, _) => HalfTurns::new((exactly * 10.0).round() / 10.0),
        }
    }

    fn geometry(&self, head: &Head) -> SwashGeometry {
        SwashGeometry {
            clockwise: head.rotation == Rotation::Clockwise,
            servos: SERVOS.map(Angle::from_degrees).to_vec(),
            servo_radius: Millimetres::new(self.servo_radius.into()),
            link_radius: Millimetres::new(self.link_radius.into()),
            pitch_arm: head.link.pitch_arm(),
            lead: self.lead.unwrap_or_else(|| Angle::from_degrees(90.0) - head.control_phase),
        }
    }
}

impl LevelPlate {
    /// From the rotor as the readings of a setup solve it; none where they do not, or where the description says nothing of the
    /// plate.
    #[must_use]
    pub fn new(head: &Head, entries: &[Entry]) -> Option<Self> {
        let swash = head.swash.as_ref()?;
        let timeline = Timeline::on(head, entries);
        let standings = Standings::new(head, entries, &timeline);
        let tilt = plate_tilt(standings.rotor()?)?;
        let geometry = swash.geometry(head);
        let half_turn = swash.half_turn();
        let rises = geometry.level(tilt.cos, tilt.sin, half_turn * ALIKE_HALF_TURNS);
        // What a pitch at the blade is at a servo's ball.
        let lever = f64::from(swash.servo_radius) * head.link.pitch_arm().value() / f64::from(swash.link_radius);
        let expanded = Millimetres::new(lever * tilt.expanded().radians());
        let turn = |rise: &crate::advice::ServoRise| ServoTurn {
            servo: rise.servo,
            half_turns: swash.turned(rise.half_turns(half_turn)),
            expanded: HalfTurns::new(expanded.value() / half_turn.value()),
            teeth: swash.horn.and_then(|horn| rise.teeth(Millimetres::new(horn.into()), expanded * 0.5)),
            sub_trim: swash.horn.map(|horn| {
                let horn = f64::from(horn);
                SubTrim {
                    by: Angle::from_radians((rise.rise.value() / horn).clamp(-1.0, 1.0).asin()),
                    expanded: Angle::from_radians(expanded.value() / horn),
                }
            }),
        };
        Some(Self { servos: rises.iter().map(turn).collect(), collective: geometry.collective(&rises) })
    }
}
