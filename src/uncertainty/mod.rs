//! A budget of named components beside every value, and the decision against a tolerance.
