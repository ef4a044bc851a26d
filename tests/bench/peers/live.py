"""Reads a sensor at a port with asyncio, publishes the smoothed angle, and serves it as server-sent events.

Prints the address of its feed first. Ends with its input, and then prints when it published what: pairs of stream time in
seconds and wall clock in nanoseconds.
"""

import asyncio
import json
import math
import os
import sys
import termios
import time
import tty

EYE = 1 / 30


class Live:
    """The newest reading, for whoever waits."""

    def __init__(self):
        self.listeners = []

    def publish(self, reading):
        for listener in self.listeners:
            listener.put_nowait(reading)

    def listener(self):
        queue = asyncio.Queue()
        self.listeners.append(queue)
        return queue


class Reader:
    """Bytes of the port to readings."""

    def __init__(self, port, live):
        self.port, self.live = port, live
        self.buffer, self.first, self.smooth = b"", None, None

    def readable(self):
        self.buffer += os.read(self.port, 4096)
        *lines, self.buffer = self.buffer.split(b"\n")
        for line in lines:
            self.line(line.decode("ascii").strip())

    def line(self, line):
        body, checksum = line[1:].split("*")
        total = 0
        for letter in body:
            total ^= ord(letter)
        if total != int(checksum, 16):
            return
        _, _, micros, _, chord, normal = body.split(",")[:6]
        clock = int(micros) / 1e6
        self.first = clock if self.first is None else self.first
        angle = math.degrees(math.atan2(float(chord), float(normal)))
        self.smooth = angle if self.smooth is None else self.smooth + 0.2 * (angle - self.smooth)
        self.live.publish((clock - self.first, self.smooth))


async def note(queue, published):
    while True:
        clock, _ = await queue.get()
        # Of several that came meanwhile the newest counts, as with whoever looks at a reading.
        while not queue.empty():
            clock, _ = queue.get_nowait()
        published.append((clock, time.time_ns()))


async def main():
    port = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
    tty.setraw(port, termios.TCSANOW)
    live, published = Live(), []
    loop = asyncio.get_running_loop()
    loop.add_reader(port, Reader(port, live).readable)
    noting = asyncio.create_task(note(live.listener(), published))

    async def feed(request, answer):
        await request.readuntil(b"\r\n\r\n")
        answer.write(b"HTTP/1.1 200 OK\r\ncontent-type: text/event-stream\r\n\r\n")
        queue, due = live.listener(), 0.0
        while True:
            clock, angle = await queue.get()
            if clock < due:
                continue
            due = clock + EYE
            data = json.dumps({"clock_s": clock, "angle_deg": angle})
            answer.write(f"event: live\ndata: {data}\n\n".encode())
            await answer.drain()

    server = await asyncio.start_server(feed, "127.0.0.1", 0)
    host, number = server.sockets[0].getsockname()
    print(f"{host}:{number}", flush=True)
    await loop.run_in_executor(None, sys.stdin.read)
    noting.cancel()
    print(json.dumps(published), flush=True)
    # Whoever still looks on is not waited for.
    os._exit(0)


asyncio.run(main())
