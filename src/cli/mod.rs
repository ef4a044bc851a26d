//! One file a command: arguments, bench or logbook, print.
