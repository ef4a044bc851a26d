//! Resting poses of a sensor: the directions that a hand can find, and which of them would teach most.
//!
//! A pose is good for what its up-direction d adds to the fit: its residual answers to the parameters by −d_i (the
//! offsets) and d_i·d_j (scales and angles). The next pose is the one of 26 easy directions with the largest
//! variance of prediction so far, which is the greedy D-optimal design (Fedorov, *Theory of Optimal Experiments*,
//! 1972). Faces and corners alone, which that design prefers, cannot tell a lean from an axis that answers oddly to another
//! (as d_i·d_j·|d_j|): so once the full model is determined by twelve, the next pose is the one that tells these apart best, without
//! losing sight of the parameters.

use nalgebra::{SMatrix, SVector, Vector3};

/// From so many poses on, which determine the model well, poses are chosen that show what it does not describe.
const DETERMINED: usize = 12;
/// A shape that shows by so little, of what a pose at its best would show (noise as [`SHOWN`] says), is as good as unseen.
const HARDLY: f64 = 10.0;
/// By how much a bend of 3 % shows above the doubt of a pose, 0.3 mg.
const SHOWN: f64 = 0.03 / 0.000_3;

/// A direction counts as covered when the poses foretell it to this many times the variance of one pose.
const ENOUGH: f64 = 2.0;

/// One resting pose: the mean of its raw samples and how well that mean is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pose {
    /// Mean of the three axes, counts.
    pub mean: [f64; 3],
    /// Covariance of that mean, counts².
    pub covariance: [[f64; 3]; 3],
}

/// One of 26 directions that a person can turn up: a face, an edge or a corner of the sensor's axes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Facing([i8; 3]);

impl Facing {
    /// All of them: six faces, twelve edges, eight corners.
    pub fn all() -> impl Iterator<Item = Self> {
        let sign = |digit: usize| [0i8, 1, -1].get(digit % 3).copied().unwrap_or(0);
        let every = (0..27).map(|i| Self([sign(i / 3), sign(i / 9), sign(i)]));
        let mut all: Vec<Self> = every.filter(|f| f.axes() > 0).collect();
        all.sort_by_key(|f| f.axes());
        all.into_iter()
    }

    /// The one that lies closest to a direction; a direction without a length lies closest to a face.
    #[must_use]
    pub fn nearest(direction: [f64; 3]) -> Self {
        let along = |facing: Self| std::iter::zip(facing.unit(), direction).map(|(a, b)| a * b).sum::<f64>();
        let best = Self::all().reduce(|best, f| if along(f) > along(best) { f } else { best });
        best.unwrap_or(Self([0, 0, 1]))
    }

    /// The axis and sense that it shows, where it is a face: axis 0, 1, 2 for x, y, z.
    #[must_use]
    pub fn face(self) -> Option<(usize, bool)> {
        let axis = self.0.iter().position(|&sign| sign != 0).filter(|_| self.axes() == 1)?;
        Some((axis, self.0[axis] > 0))
    }

    /// The face of this axis and sense.
    #[must_use]
    pub fn of_face(axis: usize, positive: bool) -> Option<Self> {
        Self::all().find(|facing| facing.face() == Some((axis, positive)))
    }

    /// For each of x, y and z whether it points up (1), down (-1) or lies level (0).
    #[must_use]
    pub const fn signs(self) -> [i8; 3] {
        self.0
    }

    /// How many axes share in it: 1 for a face, 2 for an edge, 3 for a corner.
    fn axes(self) -> usize {
        self.0.iter().filter(|&&s| s != 0).count()
    }

    /// The unit vector in the sensor's axes that points up.
    #[must_use]
    pub fn unit(self) -> [f64; 3] {
        let length = (self.axes() as f64).sqrt();
        self.0.map(|s| f64::from(s) / length)
    }
}

/// What the poses taken so far cover.
#[derive(Debug, Clone, PartialEq)]
pub struct Coverage {
    /// Share of the 26 directions in which the poses foretell the length of the force nearly as well as a pose there
    /// would show it (at most twice its variance), 0 to 1. The best spread of n poses foretells it to 9/n of a pose's
    /// variance everywhere (Kiefer, Wolfowitz 1960).
    pub share: f64,
    /// The direction that would teach most.
    pub next: Facing,
}

/// Looks at the directions in which the sensor has rested so far; without any, a face comes first.
#[must_use]
pub fn coverage(up: &[[f64; 3]]) -> Coverage {
    let directions = up.iter().filter_map(|d| Vector3::from(*d).try_normalize(f64::MIN_POSITIVE));
    // A little information about everything, so that the first poses have an answer as well.
    let mut information = SMatrix::<f64, 9, 9>::identity() * 1e-3;
    for row in directions.filter(|d| d.iter().all(|v| v.is_finite())).map(answers) {
        information += row * row.transpose();
    }
    let doubt = information.try_inverse().unwrap_or_else(SMatrix::identity);
    let variance = |facing: Facing| {
        let row = answers(Vector3::from(facing.unit()));
        (row.transpose() * doubt * row)[0]
    };
    let known = Facing::all().filter(|&f| variance(f) <= ENOUGH).count();
    let share = known as f64 / Facing::all().count() as f64;
    // Faces come first in the list: an easier pose wins unless another tells clearly more.
    let next = if up.len() < DETERMINED {
        Facing::all().reduce(|best, f| if variance(f) > variance(best) * 1.02 { f } else { best })
    } else {
        let gains = Facing::all().map(|facing| (facing, gain(up, facing)));
        gains.reduce(|best, other| if other.1 > best.1 + 1e-9 { other } else { best }).map(|(facing, _)| facing)
    };
    Coverage { share, next: next.unwrap_or(Facing([0, 0, 1])) }
}

/// The sphere of directions as a small picture: three layers of nine, `O` where the sensor has rested, `>` the direction
/// that would teach most, `.` the others.
#[must_use]
pub fn picture(up: &[[f64; 3]], next: Option<Facing>) -> String {
    let taken: Vec<Facing> = up.iter().map(|direction| Facing::nearest(*direction)).collect();
    let mark = |x: i8, y: i8, z: i8| match Facing([x, y, z]) {
        Facing([0, 0, 0]) => ' ',
        facing if taken.contains(&facing) => 'O',
        facing if next == Some(facing) => '>',
        _ => '.',
    };
    let row = |y: i8| {
        let layer = |z: i8| format!("{} {} {}", mark(-1, y, z), mark(0, y, z), mark(1, y, z));
        let side = match y {
            1 => "+y",
            -1 => "-y",
            _ => "  ",
        };
        format!("  {side}  {}    {}    {}", layer(1), layer(0), layer(-1))
    };
    let head = "      +z up    z level  -z up";
    let foot = "     -x  +x   -x  +x   -x  +x";
    [head.to_owned(), row(1), row(0), row(-1), foot.to_owned()].join("\n")
}

/// How the length of a force along `d` answers to three offsets, three scales and three angles between axes.
fn answers(d: Vector3<f64>) -> SVector<f64, 9> {
    SVector::from([-d.x, -d.y, -d.z, d.x * d.x, d.y * d.y, d.z * d.z, d.x * d.y, d.x * d.z, d.y * d.z])
}

/// How one axis answers oddly to another: the six shapes that a lean hides on faces and edges, or on corners alone.
#[must_use]
pub(super) fn odd_shapes(d: &Vector3<f64>) -> [f64; 6] {
    [(0, 1), (0, 2), (1, 0), (1, 2), (2, 0), (2, 1)].map(|(axis, other)| d[axis] * d[other] * d[other].abs())
}

/// What one more pose is worth: how far the odd shapes then show beside the parameters, and how far those are known.
fn gain(up: &[[f64; 3]], facing: Facing) -> f64 {
    let facing = facing.unit();
    let directions = up.iter().chain([&facing]).filter_map(|d| Vector3::from(*d).try_normalize(f64::MIN_POSITIVE));
    let directions: Vec<Vector3<f64>> = directions.filter(|d| d.iter().all(|v| v.is_finite())).collect();
    let rows: Vec<SVector<f64, 9>> = directions.iter().copied().map(answers).collect();
    let mut information = SMatrix::<f64, 9, 9>::identity() * 1e-9;
    let mut crossed = SMatrix::<f64, 9, 6>::zeros();
    let mut squares = [0.0; 6];
    for (row, direction) in rows.iter().zip(&directions) {
        let shapes = odd_shapes(direction);
        information += row * row.transpose();
        crossed += row * SMatrix::<f64, 1, 6>::from(shapes);
        squares = std::array::from_fn(|shape| squares[shape] + shapes[shape] * shapes[shape]);
    }
    let Some(factor) = information.cholesky() else { return f64::NEG_INFINITY };
    // What the parameters cannot stand for of each shape.
    let taken = crossed.transpose() * factor.solve(&crossed);
    let shown = (0..6).map(|shape| (SHOWN * SHOWN * (squares[shape] - taken[(shape, shape)]).max(0.0) + HARDLY).ln());
    shown.sum::<f64>() + 2.0 * factor.l().diagonal().map(f64::ln).sum()
}

/// The poses of a guided tumble, each the most telling after those before it.
#[must_use]
pub fn guided(count: usize) -> Vec<Facing> {
    let mut taken: Vec<Facing> = Vec::new();
    for _ in 0..count {
        let directions: Vec<[f64; 3]> = taken.iter().map(|f| f.unit()).collect();
        taken.push(coverage(&directions).next);
    }
    taken
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_are_26_directions_of_length_one() {
        assert_eq!(Facing::all().count(), 26);
        assert!(Facing::all().all(|f| (Vector3::from(f.unit()).norm() - 1.0).abs() < 1e-15));
    }

    #[test]
    fn a_guided_tumble_takes_the_faces_first_and_covers_the_sphere_with_twelve() {
        let guided = guided(12);
        assert!(guided[..6].iter().all(|f| f.axes() == 1), "{guided:?}");
        assert_eq!(guided[0], Facing([0, 0, 1]));
        let up: Vec<[f64; 3]> = guided.iter().map(|f| f.unit()).collect();
        let shares: Vec<f64> = (0..=12).map(|n| coverage(&up[..n]).share).collect();
        assert_eq!((shares[0], shares[12]), (0.0, 1.0), "{shares:?}");
        assert!(shares.is_sorted() && shares[6] < 0.5 && shares[8] < 1.0, "{shares:?}");
    }

    #[test]
    fn the_picture_shows_where_the_sensor_has_rested() {
        let up = [[0.05, -0.1, 0.9], [0.7, 0.0, 0.7], [0.0, -1.0, 0.1]];
        insta::assert_snapshot!(picture(&up, Some(Facing([-1, 1, -1]))), @r"
              +z up    z level  -z up
          +y  . . .    . . .    > . .
              . O O    .   .    . . .
          -y  . . .    . O .    . . .
             -x  +x   -x  +x   -x  +x
        ");
        assert!(Facing::all().all(|facing| Facing::nearest(facing.unit()) == facing));
        assert_eq!(Facing::of_face(1, false), Some(Facing([0, -1, 0])));
        assert_eq!(Facing([1, 0, 1]).face(), None);
    }

    #[test]
    fn the_missing_side_is_what_is_asked_for() {
        // Everything but the lower half.
        let upper: Vec<[f64; 3]> = Facing::all().map(Facing::unit).filter(|u| u[2] >= 0.0).collect();
        assert!(coverage(&upper).next.unit()[2] < -0.5, "{:?}", coverage(&upper).next);
        assert_eq!(coverage(&[]).share, 0.0);
        assert_eq!(coverage(&[[f64::NAN, 0.0, 0.0], [0.0; 3]]).share, 0.0);
    }
}
