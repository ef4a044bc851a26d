"""Calibrations and rotors by scipy's least squares, each from a start that a person would choose."""

import json
import sys
import time

import numpy as np
from scipy.optimize import least_squares

ENTRIES = ([0, 1, 2, 0, 0, 1], [0, 1, 2, 1, 2, 2])


def calibration(means):
    """The ellipsoid |K (raw - b)| = 1 with K upper triangular, in units of the mean length."""
    raw = np.array(means)
    size = np.mean(np.linalg.norm(raw, axis=1))
    raw = raw / size

    def residuals(x):
        k = np.zeros((3, 3))
        k[ENTRIES] = x[:6]
        return np.linalg.norm((raw - x[6:]) @ k.T, axis=1) - 1.0

    found = least_squares(residuals, [1.0, 1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0], method="lm").x
    k = np.zeros((3, 3))
    k[ENTRIES] = found[:6]
    return {"matrix": (k / size).tolist(), "offset": (found[6:] * size).tolist()}


def rotor(case):
    """Lean, swashplate, clip, and collective and droop of each blade, all in degrees."""
    readings, blades = case["readings"], case["blades"]
    blade = np.array([reading["blade"] for reading in readings])
    station = np.radians([reading["station"] for reading in readings])
    way = np.where([reading["reversed"] for reading in readings], -1.0, 1.0)
    apparent = np.array([reading["apparent"] for reading in readings])
    slope = np.array([reading["span"] for reading in readings])
    sense = 1.0 if case["anticlockwise"] else -1.0
    sin, cos = np.sin(station), np.cos(station)
    # Over the boom the span points aft; the leading edge points the way the rotor turns.
    span = np.stack([-cos, -sense * sin, np.zeros_like(sin)], axis=1)
    edge = np.stack([sin, -sense * cos, np.zeros_like(sin)], axis=1)
    shaft = np.array([0.0, 0.0, 1.0])

    def residuals(x):
        nose, left, tilt_cos, tilt_sin, clip, clip_span = x[:6]
        collective, droop = x[6 : 6 + blades][blade], np.radians(x[6 + blades :][blade])
        up = np.array([-np.tan(np.radians(nose)), -np.tan(np.radians(left)), 1.0])
        flapped = np.cos(droop)[:, None] * span + np.sin(droop)[:, None] * shaft
        normal = np.cos(droop)[:, None] * shaft - np.sin(droop)[:, None] * span
        across, along, out = edge @ up, flapped @ up, normal @ up
        pitch = collective + tilt_cos * cos + tilt_sin * sin + np.degrees(np.arctan2(across, out)) + way * clip
        lift = np.degrees(np.arctan2(along, np.hypot(across, out))) + way * clip_span
        return np.concatenate([pitch - apparent, lift - slope])

    found = least_squares(residuals, np.zeros(6 + 2 * blades), method="lm").x
    names = ["nose_deg", "left_deg", "cos_deg", "sin_deg", "clip_offset_deg", "clip_span_offset_deg"]
    names += [f"collective_deg[{n + 1}]" for n in range(blades)] + [f"droop_deg[{n + 1}]" for n in range(blades)]
    return dict(zip(names, found.tolist()))


question = json.load(sys.stdin)
solve = globals()[question["what"]]
solve(question["cases"][0])
begun = time.perf_counter()
found = [solve(case) for case in question["cases"]]
seconds = time.perf_counter() - begun
print(json.dumps({"found": found, "seconds": seconds}))
