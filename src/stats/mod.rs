//! Statistics that the other rooms stand on: mean, autocorrelation, effective number, Student's t, least squares.
