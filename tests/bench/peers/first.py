"""Opens a port, waits for a whole line, prints its angle."""

import math
import os
import sys
import termios
import tty

port = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY)
tty.setraw(port, termios.TCSANOW)
with os.fdopen(port, "rb", buffering=64) as lines:
    # The first line may have been joined in its middle.
    lines.readline()
    fields = lines.readline().decode("ascii").split("*")[0].split(",")
    print(f"{math.degrees(math.atan2(float(fields[4]), float(fields[5]))):.2f}°", flush=True)
