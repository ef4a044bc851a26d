//! Bytes to samples: serial port, TCP, replay and rig, all behind one type that yields samples.
