//! What can be wrong with a head, a sensor's zero or a hand, each so large that a person would want to know.

use super::bench::{Bench, at};
use super::cells::{
    all, collective, corner, cyclic, droop, level, rudder, slop, spindle, swept, tail_neutral_cell, tail_split_cell,
    zero,
};
use super::world::{Told, World, band, deg, positive};
use clinoblade::record::trade::{opposite, own_station};
use clinoblade::record::{Approach, CellName, Seat, Task};
use clinoblade::rig::Bind;
use clinoblade::rig::noise::Random;
use clinoblade::rotor::{Axis, BladeName, Datum, Deflection, LeadingEdge, Spot};

/// One kind of fault: how the head comes by it, how the job goes, and which cells are to show it.
#[derive(Clone, Copy)]
pub struct Class {
    pub name: &'static str,
    pub make: fn(&mut World, &mut Random),
    pub act: fn(&mut Bench, &mut Random),
    pub shows: fn(CellName) -> bool,
}

const fn class(
    name: &'static str,
    make: fn(&mut World, &mut Random),
    act: fn(&mut Bench, &mut Random),
    shows: fn(CellName) -> bool,
) -> Class {
    Class { name, make, act, shows }
}

/// Every class.
pub const FAULTS: &[Class] = &[
    class("one pitch link off", one_link, plain, zero),
    class("all pitch links off", all_links, plain, zero),
    class("plate tilted by sub-trims", tilted, plain, level),
    class("one tooth at a servo's horn", tooth, plain, level),
    class("one servo link off", servo_link, plain, level),
    class("cyclic end past its ceiling", strong, past_the_ceiling, cyclic),
    class("one direction does not move", nothing, one_way, swept),
    class("stick never moved", nothing, never_moved, swept),
    class("axis reversed", described_tail, reversed, swept),
    class("tail neutral off", tail_neutral, plain, tail_neutral_cell),
    class("tail end past its ceiling", tail_past, plain, rudder),
    class("tail blades split", tail_split, both_tail_blades, tail_split_cell),
    class("tail horn moved", nothing, tail_horn, tail_neutral_cell),
    class("spindle bent", bent, spindle_checked, spindle),
    class("droop of one blade off", drooping, plain, droop),
    class("stick goes past a bind", bound, backed_off, swept),
    class("stick past a bind, no sweep", bound, backed_off_unswept, swept),
    class("buzz at an end", buzzing, plain_or_unswept, swept),
    class("sweep falls short", nothing, swept_short, swept),
    class("past its ceiling, read off axis", strong, past_off_axis, cyclic),
    class("collective end off", wants_collective, collective_off, collective),
    class("collective right as travel only", pitch_is_not_travel, plain, collective),
    class("plate tilted, then model moved", tilted, moved_midway, level),
    class("clip put on reversed", nothing, backwards, cyclic),
    class("links off, hidden by a new zero", nothing, hidden_by_datum, zero),
    class("collective stops short at a corner", nothing, corner_short, corner),
    class("diagonal past its ceiling", strong, diagonals_past, corner),
    class("lost motion", loose, approached, slop),
    class("phase described wrongly", misdescribed, read_for_phase, cyclic),
    class("link off, sensor of one angle", one_link_one_angle, plain, zero),
    class("plate tilted, sensor of one angle", tilted_one_angle, plain, all),
    class("plate tilted, servos described", tilted_described, plain, level),
];

/// Variants of heads that are right.
pub const RIGHT: &[Class] = &[
    class("as drawn", nothing, plain, all),
    class("leaning by 3°", leaning, plain, all),
    class("phase of 20°", phase, plain, all),
    class("noisy sensor", noisy, plain, all),
    class("sensor of angles", angles, plain, all),
    class("uncalibrated sensor", uncalibrated, plain, all),
    class("zero set anew before the tail", nothing, datum_before_the_tail, all),
    class("zero by gravity", nothing, by_gravity, all),
    class("model moved, said", nothing, moved_midway, all),
    class("mid stick at 2°", mid_at_two, plain, all),
    class("bound, end point set", bound, bound_and_set, all),
    class("read for the phase besides", nothing, read_for_phase, all),
    class("read round the turn", nothing, round, all),
    class("spindle checked", nothing, straight_spindle, all),
    class("both tail blades read", nothing, both_tail_blades, all),
    class("corners read", nothing, corners, all),
    class("lost motion read", tight, approached, all),
    class("servos described", described_swash, round, all),
];

const ENDS: [&str; 6] =
    ["elevator up", "elevator down", "aileron left", "aileron right", "rudder left", "rudder right"];

fn some<'a>(random: &mut Random, of: &[&'a str]) -> &'a str {
    of[(of.len() as f64 * random.uniform()) as usize]
}

fn an_end(random: &mut Random, of: &[&str]) -> Deflection {
    some(random, of).parse().unwrap()
}

/// As large as one of both, either way.
fn either_way(random: &mut Random, least: f64, most: f64) -> f64 {
    random.between(least, most) * if random.chance(0.5) { 1.0 } else { -1.0 }
}

fn a_blade(random: &mut Random, world: &World) -> usize {
    (world.stand.len() as f64 * random.uniform()) as usize
}

fn nothing(_: &mut World, _: &mut Random) {}

fn one_link(world: &mut World, random: &mut Random) {
    let blade = a_blade(random, world);
    world.stand[blade] += either_way(random, 1.3, 3.0);
}

fn all_links(world: &mut World, random: &mut Random) {
    let off = either_way(random, 1.3, 3.0);
    world.stand.iter_mut().for_each(|stand| *stand += off);
}

/// A degree of a servo's arm tilts the pitch by 0.45°.
fn tilted(world: &mut World, random: &mut Random) {
    let (arm, toward) = (random.between(1.2, 3.0) / 0.45, random.between(0.0, 360.0));
    for (servo, trim) in world.scenario.servos.sub_trim_deg.iter_mut().enumerate() {
        *trim += deg(arm * (120.0 * servo as f64 - toward).to_radians().cos());
    }
}

/// The arm turned by a tooth of 25, its rod left as it is: the same as so much sub-trim.
fn tooth(world: &mut World, random: &mut Random) {
    let servo = 1 + (3.0 * random.uniform()) as usize;
    world.hands.push(format!("subtrim {servo} {}", either_way(random, 14.4, 14.4)));
}

fn servo_link(world: &mut World, random: &mut Random) {
    let servo = 1 + (3.0 * random.uniform()) as usize;
    world.hands.push(format!("rod {servo} {}", either_way(random, 4.0, 9.0)));
}

/// Its end points can take it past its ceiling.
fn strong(world: &mut World, _: &mut Random) {
    world.scenario.head.cyclic_deg = deg(10.0);
}

fn described_tail(world: &mut World, _: &mut Random) {
    world.head.tail.positive = Some(positive(&world.scenario));
}

fn tail_neutral(world: &mut World, random: &mut Random) {
    world.scenario.tail.neutral_deg += deg(either_way(random, 2.5, 5.0));
    world.scenario.tail.travel_deg = deg(random.between(22.0, 28.0));
}

/// The travel alone would be below.
fn tail_past(world: &mut World, random: &mut Random) {
    let (neutral, end) = (random.between(8.0, 14.0), random.between(46.5, 50.0));
    let tail = &mut world.scenario.tail;
    (tail.neutral_deg, tail.travel_deg) = (deg(neutral), deg(end - neutral));
    world.head.targets.tail_neutral = None;
}

fn tail_split(world: &mut World, random: &mut Random) {
    let off = either_way(random, 1.2, 3.0) / 2.0;
    world.scenario.tail.blade_error_deg = [deg(off), deg(-off)];
    // Half of it is the neutral's.
    let tail = &mut world.head.targets;
    tail.tail_neutral = None;
}

fn bent(world: &mut World, random: &mut Random) {
    world.scenario.head.spindle_bend_deg = deg(random.between(0.5, 1.0));
    world.scenario.head.spindle_bend_azimuth_deg = deg(random.between(0.0, 360.0));
}

fn drooping(world: &mut World, random: &mut Random) {
    let blade = a_blade(random, world);
    world.scenario.blades.droop_deg[blade] += deg(either_way(random, 2.3, 3.5));
}

/// A stop well before the end.
fn bound(world: &mut World, random: &mut Random) {
    a_stop(world, random, 0.6, 0.85);
}

/// A stop just before the end.
fn buzzing(world: &mut World, random: &mut Random) {
    a_stop(world, random, 0.95, 0.985);
}

fn a_stop(world: &mut World, random: &mut Random, least: f64, most: f64) {
    let end = some(random, &ENDS);
    let full = Bench::new(world).travel(end.parse().unwrap()).degrees();
    let bind = Bind { at: end.parse().unwrap(), travel_deg: deg(full * random.between(least, most)) };
    world.scenario.binds = vec![bind];
}

fn wants_collective(world: &mut World, _: &mut Random) {
    world.wants_collective(-10.0, 10.0);
}

/// Wanted as on a head whose blades stand at zero; they stand at 2°, and everything else with them.
fn pitch_is_not_travel(world: &mut World, random: &mut Random) {
    mid_at_two(world, random);
    world.wants_collective(-10.0, 10.0);
}

fn mid_at_two(world: &mut World, _: &mut Random) {
    world.stand.iter_mut().for_each(|stand| *stand += 2.0);
    world.head.targets.blade_zero = band(2.0, 0.5);
    world.wants_collective(-8.0, 12.0);
}

fn leaning(world: &mut World, random: &mut Random) {
    world.leans(random, 3.0);
}

fn phase(world: &mut World, random: &mut Random) {
    let phase = either_way(random, 20.0, 20.0);
    world.acts_later(random, phase);
}

fn noisy(world: &mut World, _: &mut Random) {
    world.scatters(0.05);
}

fn angles(world: &mut World, random: &mut Random) {
    let told = if random.chance(0.5) { Told::Tilt } else { Told::Attitude };
    world.angles_only(random, told);
}

fn uncalibrated(world: &mut World, _: &mut Random) {
    world.uncalibrated();
}

fn plain(bench: &mut Bench, _: &mut Random) {
    bench.plain_job();
}

fn plain_or_unswept(bench: &mut Bench, random: &mut Random) {
    bench.habits.leaves_out_sweeps = random.chance(0.5);
    bench.plain_job();
}

fn set_end(bench: &mut Bench, end: Deflection, travel: f64) {
    let percent = bench.end_point_for(end, travel);
    bench.hands(&format!("endpoint {end} {percent}"));
    let truly = bench.travel(end).degrees();
    assert!((truly - travel).abs() < 0.05, "{end} goes to {truly}° instead of {travel}°");
}

fn past_the_ceiling(bench: &mut Bench, random: &mut Random) {
    let end = an_end(random, &ENDS[..4]);
    set_end(bench, end, random.between(13.0, 13.7));
    bench.plain_job();
}

fn one_way(bench: &mut Bench, random: &mut Random) {
    bench.hands(&format!("endpoint {} 0", some(random, &ENDS)));
    plain_or_unswept(bench, random);
}

fn never_moved(bench: &mut Bench, random: &mut Random) {
    let axes = [Axis::Elevator, Axis::Aileron, Axis::Rudder];
    bench.habits.leaves =
        if random.chance(0.3) { axes.to_vec() } else { vec![axes[(3.0 * random.uniform()) as usize]] };
    plain_or_unswept(bench, random);
}

fn reversed(bench: &mut Bench, random: &mut Random) {
    bench.habits.reversed = vec![[Axis::Elevator, Axis::Aileron, Axis::Rudder][(3.0 * random.uniform()) as usize]];
    bench.plain_job();
}

/// Nearly a tooth, from the beginning or between both leading edges.
fn tail_horn(bench: &mut Bench, random: &mut Random) {
    let command = format!("trim rudder {}", either_way(random, 40.0, 48.0));
    if random.chance(0.5) {
        bench.hands(&command);
        bench.plain_job();
        return;
    }
    let mut was = true;
    bench.job(|bench, _, seat| {
        if was && seat.spot == Spot::Tail(LeadingEdge::Down) {
            was = false;
            bench.hands(&command);
        }
    });
}

fn both_tail_blades(bench: &mut Bench, _: &mut Random) {
    bench.plain_job();
    let blade = BladeName::from_index(1).unwrap();
    for edge in [LeadingEdge::Down, LeadingEdge::Up] {
        let spot = Spot::Tail(edge);
        bench.go_to(Seat { blade, spot });
        bench.capture("rudder neutral".parse().unwrap(), blade, spot);
    }
}

/// Four quarters, three of them, or two opposite ones only.
fn spindle_checked(bench: &mut Bench, random: &mut Random) {
    bench.plain_job();
    let seats: &[u16] = match random.uniform() {
        half if half < 0.5 => &[0, 90, 180, 270],
        three if three < 0.75 => &[0, 90, 180],
        _ => &[0, 180],
    };
    bench.check_spindle(BladeName::A, seats);
}

fn straight_spindle(bench: &mut Bench, _: &mut Random) {
    bench.plain_job();
    bench.check_spindle(BladeName::A, &[0, 90, 180, 270]);
}

fn backed_off(bench: &mut Bench, _: &mut Random) {
    bench.habits.backs_off = true;
    bench.plain_job();
}

fn backed_off_unswept(bench: &mut Bench, random: &mut Random) {
    bench.habits.leaves_out_sweeps = true;
    backed_off(bench, random);
}

/// From the bind on, its end point stops where the stick was backed off to, and the end is captured again.
fn bound_and_set(bench: &mut Bench, _: &mut Random) {
    bench.habits.backs_off = true;
    let end: Deflection = bench.rig.scenario().binds[0].at.to_string().parse().unwrap();
    let mut was = true;
    bench.job(|bench, task, _| {
        if was && task == Task::OnceMore(end.axis()) {
            was = false;
            let bind = bench.captures().filter(|c| c.subject.deflection() == end).last().unwrap().clone();
            let percent = bind.stick.value().abs().floor();
            bench.hands(&format!("endpoint {end} {percent}"));
            bench.adjust(&format!("{end} end point {percent} %"));
            let edges = [LeadingEdge::Up, LeadingEdge::Down].map(Spot::Tail);
            let spots = if end.axis() == Axis::Rudder { edges.to_vec() } else { vec![bind.subject.spot()] };
            // What was set belongs to the axis: the other end is read again too.
            let other = opposite(end).unwrap();
            for (spot, end) in spots.into_iter().flat_map(|spot| [(spot, end), (spot, other)]) {
                bench.end(end, Seat { blade: bind.subject.blade(), spot });
            }
        }
    });
}

fn swept_short(bench: &mut Bench, random: &mut Random) {
    let end = an_end(random, &ENDS);
    let percent = random.between(50.0, 80.0);
    let mut was = true;
    bench.job(|bench, task, _| {
        if was && matches!(task, Task::OnceMore(axis) if axis == end.axis()) {
            was = false;
            bench.hands(&format!("endpoint {end} {percent}"));
        }
    });
}

fn past_off_axis(bench: &mut Bench, random: &mut Random) {
    let end = an_end(random, &ENDS[..4]);
    set_end(bench, end, random.between(13.0, 13.7));
    bench.habits.off_station = vec![(end.axis(), either_way(random, 25.0, 55.0))];
    plain_or_unswept(bench, random);
}

fn collective_off(bench: &mut Bench, random: &mut Random) {
    let end = an_end(random, &["collective low", "collective high"]);
    let travel = 10.0 + either_way(random, 1.5, 3.0);
    set_end(bench, end, travel);
    bench.plain_job();
}

/// After the zeros and a reading along the boom the model is put down elsewhere, and everything goes on from there.
fn moved_midway(bench: &mut Bench, random: &mut Random) {
    let along = own_station(&bench.head, "aileron neutral".parse().unwrap());
    let (sin, cos) = random.between(0.0, std::f64::consts::TAU).sin_cos();
    let lean = random.between(0.0, 3.0);
    let mut was = true;
    bench.job(|bench, task, _| {
        if was && task == Task::Cable {
            was = false;
            for (station, what) in
                [(f64::from(along), "aileron neutral"), (f64::from(along) + 90.0, "elevator neutral")]
            {
                bench.go_to(Seat { blade: BladeName::A, spot: at(station) });
                bench.capture(what.parse().unwrap(), BladeName::A, at(station));
            }
            bench.moved(lean * cos, lean * sin);
        }
    });
}

/// From blade A's cyclic ends on.
fn backwards(bench: &mut Bench, _: &mut Random) {
    bench.job(|bench, task, seat| {
        if task == Task::Cable {
            bench.put_on_anew();
        }
        bench.habits.backwards = matches!(seat.spot, Spot::Main(_)) && (task == Task::Cable || bench.habits.backwards);
    });
}

/// The other blades stand off, and so does the zero that is set before they are read.
fn hidden_by_datum(bench: &mut Bench, random: &mut Random) {
    let off = either_way(random, 1.3, 3.0);
    let mut stand: Vec<f64> = bench.head.blades.names().map(|b| bench.collective(b).degrees()).collect();
    stand.iter_mut().skip(1).for_each(|stand| *stand += off);
    bench.set_links(&stand);
    let mut was = true;
    bench.job(|bench, _, seat| {
        if was && seat.blade != BladeName::A {
            was = false;
            let Datum::Reversal { mut instrument, slope, u } = bench.datum.datum else { return };
            instrument.chord += deg(off);
            bench.begin_datum(Datum::Reversal { instrument, slope, u });
        }
    });
}

fn by_gravity(bench: &mut Bench, _: &mut Random) {
    bench.begin_datum(Datum::Gravity);
    bench.plain_job();
}

fn datum_before_the_tail(bench: &mut Bench, _: &mut Random) {
    let mut was = true;
    bench.job(|bench, _, seat| {
        if was && matches!(seat.spot, Spot::Tail(_)) {
            was = false;
            bench.set_datum();
        }
    });
}

/// Every end of a cyclic axis once more at a station 45° on.
fn read_for_phase(bench: &mut Bench, _: &mut Random) {
    bench.plain_job();
    for end in ENDS[..4].iter().map(|end| end.parse::<Deflection>().unwrap()) {
        let own = f64::from(own_station(&bench.head, end));
        bench.end(end, Seat { blade: BladeName::A, spot: at(own + 45.0) });
    }
}

/// Blade A's neutrals at every quarter, the clip left on.
fn round(bench: &mut Bench, _: &mut Random) {
    bench.plain_job();
    let own = f64::from(own_station(&bench.head, "elevator neutral".parse().unwrap()));
    for quarter in [0.0, 90.0, 180.0, 270.0] {
        let spot = at(own + quarter);
        bench.go_to(Seat { blade: BladeName::A, spot });
        bench.capture("collective mid".parse().unwrap(), BladeName::A, spot);
    }
}

/// Each diagonal of the cyclic stick with its parts, where both axes show, every axis going so far.
fn read_diagonals(bench: &mut Bench, travel: f64) {
    let ends = ENDS[..4].iter().map(|end| end.parse::<Deflection>().unwrap());
    for end in ends.clone() {
        set_end(bench, end, travel);
    }
    bench.plain_job();
    let own = f64::from(own_station(&bench.head, "elevator neutral".parse().unwrap()));
    let spot = at(own + 45.0);
    bench.go_to(Seat { blade: BladeName::A, spot });
    let diagonals = ["corner mid up-right", "corner mid up-left", "corner mid down-left", "corner mid down-right"];
    let all = ["collective mid"].into_iter().chain(ENDS[..4].iter().copied()).chain(diagonals);
    for what in all {
        bench.capture(what.parse().unwrap(), BladeName::A, spot);
    }
}

/// Each axis keeps its ceiling of 12°, and both together go 14° to 16°.
fn diagonals_past(bench: &mut Bench, random: &mut Random) {
    let travel = random.between(10.0, 11.3);
    read_diagonals(bench, travel);
}

/// Full elevator together with the collective, where it does not go as high as alone.
fn corner_short(bench: &mut Bench, random: &mut Random) {
    read_corner(bench, random.between(55.0, 75.0));
}

fn read_corner(bench: &mut Bench, high: f64) {
    bench.plain_job();
    let spot = Spot::Main(own_station(&bench.head, "elevator neutral".parse().unwrap()));
    bench.go_to(Seat { blade: BladeName::A, spot });
    for what in ["collective mid", "elevator up", "collective high"] {
        bench.capture(what.parse().unwrap(), BladeName::A, spot);
    }
    bench.hands(&format!("endpoint collective high {high}"));
    bench.capture("corner high up".parse().unwrap(), BladeName::A, spot);
    bench.hands("endpoint collective high 100");
}

fn corners(bench: &mut Bench, _: &mut Random) {
    read_diagonals(bench, 7.5);
    read_corner(bench, 100.0);
}

fn loose(world: &mut World, random: &mut Random) {
    world.scenario.head.slop_deg = deg(random.between(0.6, 1.5));
}

fn tight(world: &mut World, random: &mut Random) {
    world.scenario.head.slop_deg = deg(random.between(0.0, 0.1));
}

/// The elevator's centre from below and from above, on every blade.
fn approached(bench: &mut Bench, _: &mut Random) {
    bench.plain_job();
    let neutral: Deflection = "elevator neutral".parse().unwrap();
    let spot = Spot::Main(own_station(&bench.head, neutral));
    let blades: Vec<BladeName> = bench.head.blades.names().collect();
    for blade in blades {
        bench.go_to(Seat { blade, spot });
        for from in [Approach::Below, Approach::Above] {
            bench.capture_from(neutral, blade, spot, Some(from));
        }
    }
}

/// The controls act 15° to 22° away from where the head's description has them: each station is set by eye to 5°.
fn misdescribed(world: &mut World, random: &mut Random) {
    let (described, off) = (world.head.control_phase, either_way(random, 15.0, 22.0));
    let toward = if described.degrees() > 0.0 { -off.abs() } else { off.abs() };
    world.acts_later(random, described.degrees() + toward);
    world.head.control_phase = described;
}

fn one_link_one_angle(world: &mut World, random: &mut Random) {
    one_link(world, random);
    world.angles_only(random, Told::Tilt);
}

fn tilted_one_angle(world: &mut World, random: &mut Random) {
    tilted(world, random);
    world.angles_only(random, Told::Tilt);
}

fn described_swash(world: &mut World, _: &mut Random) {
    world.describes_servos();
}

fn tilted_described(world: &mut World, random: &mut Random) {
    tilted(world, random);
    world.describes_servos();
}
