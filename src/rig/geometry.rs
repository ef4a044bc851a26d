//! Rotations in space, and the directions that the rig's vectors are made of.
//!
//! Everything the simulated sensor feels is one chain of rotation matrices from the world to the sensor's case. The
//! rooms that measure use closed formulas instead, so a wrong sign on either side shows.

/// A vector in some set of axes.
pub(crate) type Vector = [f64; 3];

/// A proper rotation: its columns are the turned axes seen from outside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Turn([[f64; 3]; 3]);

impl Turn {
    /// No rotation.
    pub(crate) const NONE: Self = Self([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]);

    /// Right-handed rotation about the first axis by `angle` radians.
    pub(crate) fn about_x(angle: f64) -> Self {
        let (sin, cos) = angle.sin_cos();
        Self([[1.0, 0.0, 0.0], [0.0, cos, -sin], [0.0, sin, cos]])
    }

    /// Right-handed rotation about the second axis by `angle` radians.
    pub(crate) fn about_y(angle: f64) -> Self {
        let (sin, cos) = angle.sin_cos();
        Self([[cos, 0.0, sin], [0.0, 1.0, 0.0], [-sin, 0.0, cos]])
    }

    /// Right-handed rotation about the third axis by `angle` radians.
    pub(crate) fn about_z(angle: f64) -> Self {
        let (sin, cos) = angle.sin_cos();
        Self([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    }

    /// The rotation whose turned axes are the three given ones, which must be square to each other and right-handed.
    pub(crate) const fn from_axes(x: Vector, y: Vector, z: Vector) -> Self {
        Self([[x[0], y[0], z[0]], [x[1], y[1], z[1]], [x[2], y[2], z[2]]])
    }

    /// This rotation, and within the axes it made the `next` one.
    pub(crate) fn then(self, next: Self) -> Self {
        let mut product = [[0.0; 3]; 3];
        for (row, own) in product.iter_mut().zip(self.0) {
            for (column, cell) in row.iter_mut().enumerate() {
                *cell = own.iter().zip(next.0).map(|(a, b)| a * b[column]).sum();
            }
        }
        Self(product)
    }

    /// The turned first, second and third axis, seen from outside.
    pub(crate) fn axes(self) -> [Vector; 3] {
        let [a, b, c] = self.0;
        [[a[0], b[0], c[0]], [a[1], b[1], c[1]], [a[2], b[2], c[2]]]
    }

    /// What an outside `vector` measures along the turned axes.
    pub(crate) fn seen_from(self, vector: Vector) -> Vector {
        self.axes().map(|axis| dot(axis, vector))
    }

    /// The world's vertical as it stands in the turned axes.
    pub(crate) fn up(self) -> Vector {
        self.seen_from(UP)
    }
}

/// The vertical of the world.
pub(crate) const UP: Vector = [0.0, 0.0, 1.0];

pub(crate) fn dot(a: Vector, b: Vector) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

pub(crate) fn cross(a: Vector, b: Vector) -> Vector {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

/// `vector` brought to a length of one; a zero vector stays as it is.
pub(crate) fn unit(vector: Vector) -> Vector {
    let length = dot(vector, vector).sqrt();
    if length > 0.0 { vector.map(|x| x / length) } else { vector }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn a_quarter_turn_about_each_axis_goes_round_by_the_right_hand() {
        let quarter = std::f64::consts::FRAC_PI_2;
        for (turn, from, to) in
            [(Turn::about_x(quarter), 1, 2), (Turn::about_y(quarter), 2, 0), (Turn::about_z(quarter), 0, 1)]
        {
            assert_abs_diff_eq!(turn.axes()[from][to], 1.0, epsilon = 1e-15);
        }
    }

    #[test]
    fn a_chain_keeps_lengths_and_handedness() {
        let chain = Turn::about_z(0.3).then(Turn::about_y(-1.1)).then(Turn::about_x(2.0));
        let [x, y, z] = chain.axes();
        let third = cross(x, y);
        for (made, expected) in third.iter().zip(z) {
            assert_abs_diff_eq!(*made, expected, epsilon = 1e-15);
        }
        assert_abs_diff_eq!(dot(x, y), 0.0, epsilon = 1e-15);
    }
}
