//! What stands below the options in the long help of a command. A terminal wraps the paragraphs: no line is broken inside one.

/// Before anything is moved.
pub const CAUTIONS: &str = "\
Before you move a stick: disconnect the motor, run the electronics on a separate battery, keep fingers clear of the blades, \
and hold no servo against a bind. The model's own manual and the national rules override every number shown here. This \
program measures; it certifies nothing.";

/// `capture`.
pub const CAPTURE: &str = "\
Examples:
  clinoblade capture collective mid --blade A --station 90
  clinoblade capture elevator neutral
  clinoblade capture elevator up                        (hold the stick back)
  clinoblade capture aileron left --bound               (the linkage binds here)
  clinoblade capture rudder right --leading-edge down   (tail blade, leading edge down)
  clinoblade capture corner high up-right               (full collective and cyclic)

Capture the neutral of an axis first, then each end while you hold the stick there.

Stations count in degrees from the tail boom in the direction of rotation. The default is the axis' own station: 90 (square to \
the boom) for elevator and collective, 0 (along it) for aileron, each plus the head's control phase. A corner is compared with \
the sum of its parts, captured at the same station on the same blade.

If the linkage binds, move the stick back until the buzzing stops, then capture with --bound.";

/// `read`.
pub const READ: &str = "\
Examples:
  clinoblade read --port /dev/ttyUSB0
  clinoblade read --replay blade.log --json --want 0.02
  clinoblade read --setup 3 --blade A --station 90

The zero of the open setup and, with the default sensor, its saved calibration are used, as `capture` does. A recording (--replay) \
stands alone unless you name --setup; --raw shows the bare sensor. If you name a blade, the uncertainty includes the clip's seat.

A sensor at rest must show 1 g: with a calibration to within 2 to 3 %, without one to within 20 %. If it does not, or if an axis no \
longer follows, there is no reading, and you are told why.";

/// `datum`.
pub const DATUM: &str = "\
Examples:
  clinoblade datum gravity
  clinoblade datum reversal                         (three rests on any flat surface)
  clinoblade datum reversal --on-a-blade            (clip forward, reversed, forward)
  clinoblade datum surface --station 90
  clinoblade datum neutral --blade A --station 90
  clinoblade datum shaft

Turn the sensor end for end on any flat surface: `datum reversal` cancels its error, and the surface need not be level. Then turn it \
back: that shows a drift. What it finds belongs to the sensor, and the next setup takes it over while it holds.";

/// `spindle`.
pub const SPINDLE: &str = "\
Example:
  clinoblade spindle --blade A

Take both pitch links off and mark the spindle. The span slope is read, you turn the spindle in its grips without touching the \
clip, put the blade back at the same station, and it is read again, at each seat. A straight spindle shows the same slope each \
time. Quarter turns, the default, show that a spindle is straight; two seats half a turn apart (`--seats 0,180`) find a bend in \
their plane and none across it.";

/// `sweep`.
pub const SWEEP: &str = "\
Examples:
  clinoblade sweep
  clinoblade sweep elevator
  clinoblade sweep rudder --leading-edge down

Move the stick all the way to one end and hold it a moment, then to the other end, then let it go. The sweep ends by itself when \
it has seen both ends. It names each direction that does not move, or not as far as recorded. The exit code is 0 when every end \
is reached, else 1.";

/// `completions`.
pub const COMPLETIONS: &str =
    "Example:\n  clinoblade completions bash > ~/.local/share/bash-completion/completions/clinoblade";

/// `check`.
pub const CHECK: &str = "\
Example:
  clinoblade check && echo ready for the hand-over

The exit code is 0 when every cell that is owed holds a value and every value is inside or bound; what is outside, undecided, in \
question, stale or missing makes it 1.";

/// `adjust`.
pub const ADJUST: &str = "\
Examples:
  clinoblade adjust link B -2                   (half-turns of blade B's pitch link, positive longer)
  clinoblade adjust link B +0.64                (a turnbuckle, by any fraction of a half-turn)
  clinoblade adjust elevator end point 95       (both ends of the elevator)
  clinoblade adjust elevator up end point 95
  clinoblade adjust swash link 1 +1             (link between servo 1 and the swashplate)
  clinoblade adjust servo arm 2                 (or, where you know it: servo arm 2 +1 tooth)
  clinoblade adjust sub-trim 3 -4
  clinoblade adjust elevator trim 3
  clinoblade adjust phase 5
  clinoblade adjust collective range 80
  clinoblade adjust mixing changed
  clinoblade adjust tail rod +1
  clinoblade adjust tail sub-trim -4
  clinoblade adjust servo 2 replaced            (also spindle, shaft, grip A, blade B, blades, tail blades, parts)
  clinoblade adjust blades A and B exchanged
  clinoblade adjust crash

Every result that this can have moved is out of date until you measure it again. After a crash, or where parts were replaced, \
spindle, droop, lost motion, corners, both tail blades and a sweep are owed as well. A wrong entry is taken back with \
`clinoblade setup withdraw`.";

/// `report`.
pub const REPORT: &str = "\
Examples:
  clinoblade report --out sheet.html        (a page that prints on A4)
  clinoblade report 4 --out sheet.txt       (plain text for mail)
  clinoblade report 4 --against 2           (with what has changed since setup 2, on the screen)

The ending of FILE says what is written: .html, .txt or .json. Without --out the text is printed.";

/// `backup`.
pub const BACKUP: &str = "\
Example:
  clinoblade backup --out logbook-spring.sqlite

Other commands, the bench page too, may go on meanwhile. The backup is a whole logbook: `clinoblade --logbook FILE setup list` shows \
what it holds. Another file than an earlier backup of the same logbook is never replaced.";

/// `bench`.
pub const BENCH: &str = "\
Examples:
  clinoblade bench                              the open setup, the saved sensor, the page in your browser
  clinoblade bench --port /dev/ttyUSB0 --no-open
  clinoblade bench --listen 0.0.0.0:8650        for a phone on the bench: a code in the terminal lets it in
  clinoblade bench --port a=/dev/ttyUSB0 --port b=/dev/ttyUSB1 --port tail=/dev/ttyUSB2
                                                a sensor on each blade: no clip is moved

The page leads through the whole job: it says each step, waits until clip and head are where they should be, captures when the \
blade is held still, and asks where a reading contradicts what was asked for. An unplugged sensor is waited for.";

/// `demo`.
pub const DEMO: &str = "\
Examples:
  clinoblade demo                                the bench page over a simulated head, with hands to move it
  clinoblade demo --autoplay                     the page, and the whole job performed by itself
  clinoblade demo --terminal --autoplay          the whole job in the terminal, a minute and a half
  clinoblade demo --terminal                     step by step: Enter moves on
  clinoblade demo --terminal --autoplay --sheet sheet.html
  clinoblade demo --terminal --autoplay --json   the record with the truth beside it

The demo has a logbook of its own, which goes when it ends: yours is left alone.";

/// `watch`.
pub const WATCH: &str = "\
Examples:
  clinoblade watch --port /dev/ttyUSB0
  clinoblade watch --plain --rate 5 | tee blade.txt
  clinoblade watch --replay blade.log --plain --json
  clinoblade watch --raw                            (no calibration, no zero)

In a terminal, with a setup open, it leads through the job as the page does: a starts, c captures now, o shows the order of the \
steps, f finishes the setup, q ends; every key stands at the foot. Otherwise it is one line that is written over. An unplugged sensor is \
waited for, and taken up again when it comes back. Ctrl-C ends.";
