//! Force to live and steady angle: the gate, the live value, the steady mean.
