"""Reads a log as a short script over a serial port does: one line, split, float; binary frames by struct."""

import json
import struct
import sys
import time


def sentence(port):
    fields = port.readline().decode("ascii").strip().split("*")[0].split(",")
    return float(fields[3]), float(fields[4]), float(fields[5])


def columns(port):
    x, y, z = port.readline().decode("ascii").strip().split(",")
    return float(x), float(y), float(z)


def labelled(port):
    pairs = dict(pair.split(":") for pair in port.readline().decode("ascii").split())
    return float(pairs["x"]), float(pairs["y"]), float(pairs["z"])


def xdr(port):
    fields = port.readline().decode("ascii").strip().split("*")[0].split(",")
    return float(fields[2]), float(fields[6])


def frame(port):
    while port.read(1) != b"\xa7" or port.read(1) != b"\x5c":
        pass
    _, _, x, y, z, _, _ = struct.unpack("<HIhhhhH", port.read(16))
    return x, y, z


def modbus(port):
    _, _, _, x, y, z, _ = struct.unpack(">BBBhhhH", port.read(11))
    return x, y, z


def seconds(question):
    read = globals()[question["profile"]]
    with open(question["log"], "rb") as port:
        begun = time.perf_counter()
        for _ in range(question["samples"]):
            read(port)
        return time.perf_counter() - begun, port.tell()


question = json.load(sys.stdin)
rounds = [seconds(question) for _ in range(20)]
print(json.dumps({"bytes": rounds[0][1], "seconds": min(round[0] for round in rounds)}))
