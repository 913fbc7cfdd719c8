"""The animals and people that pass, drawn from the side, walking to the right.

Proportions are drawn by eye from general knowledge of a white-tailed deer's build, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from camsign.demo.figures import Figure, Part, blob, build, limb, outline, turned
from camsign.demo.paint import f32

if TYPE_CHECKING:
    from camsign.demo.land import Antlers
    from camsign.demo.paint import Array, Color

SUMMER: Color = (66, 96, 140)
WINTER: Color = (80, 98, 116)
WHITE: Color = (206, 218, 224)
DARK: Color = (38, 44, 52)
BONE: Color = (134, 168, 190)
VELVET: Color = (70, 88, 112)


@dataclass(frozen=True, slots=True)
class Deer:
    """How one deer is built and what it does now."""

    antlers: Antlers | None = None
    depth: float = 1.0  # chest and belly, 1 is a buck of 3 years
    neck: float = 1.0  # a rutting neck is thicker
    coat: str = "winter"
    velvet: bool = False
    pose: str = "walk"  # walk, alert, feed
    phase: int = 0  # of eight in a walking cycle


def _mixed(first: Color, second: Color, share: float) -> Color:
    b, g, r = (int(a * (1 - share) + c * share) for a, c in zip(first, second, strict=True))
    return b, g, r


def _dark(color: Color, factor: float) -> Color:
    return _mixed((0, 0, 0), color, factor)


STANCE = 0.62
HEAD_TURN = {"walk": -0.26, "alert": 0.10, "feed": -1.78}
SKULL_TURN = {"walk": 0.14, "alert": -0.06, "feed": 0.62}
REACH = {"walk": (-0.05, -0.03), "alert": (-0.035, -0.07), "feed": (0.0, -0.13)}


def _gait(phase: float) -> tuple[float, float]:
    """Swing of a leg [rad] and flex of its knee [rad] at a phase (0 to 1) of its cycle."""
    phase %= 1.0
    if phase < STANCE:
        return 0.34 * (1 - 2 * phase / STANCE), 0.0
    part = (phase - STANCE) / (1 - STANCE)
    return 0.34 * (2 * part - 1), 0.95 * float(np.sin(np.pi * part))


def _leg(joints: Array, swing: float, flex: float, bend_at: int, sign: float) -> Array:
    """Joints of a leg swung about the hip and flexed at one joint, its hoof back on the ground."""
    leg = turned(joints, (float(joints[0, 0]), float(joints[0, 1])), swing)
    if flex > 0:
        about = (float(leg[bend_at, 0]), float(leg[bend_at, 1]))
        leg[bend_at + 1 :] = turned(leg[bend_at + 1 :], about, sign * flex)
    else:
        leg[-2:, 1] -= leg[-1, 1]
    return leg


FRONT = f32(
    [[0.36, 0.76], [0.335, 0.60], [0.345, 0.34], [0.345, 0.095], [0.365, 0.02], [0.385, 0.0]]
)
FRONT_WIDE = f32([0.20, 0.125, 0.060, 0.038, 0.048, 0.05])
HIND = f32(
    [[-0.36, 0.82], [-0.30, 0.62], [-0.475, 0.43], [-0.445, 0.10], [-0.42, 0.02], [-0.40, 0.0]]
)
HIND_WIDE = f32([0.33, 0.22, 0.078, 0.042, 0.05, 0.05])


def _legs(deer: Deer, coat: Color, layer: int) -> list[Part]:
    shift = 0.0 if layer else 0.5
    cycle = deer.phase / 8 + shift
    front = _gait(cycle + 0.25) if deer.pose == "walk" else (0.05 - 0.22 * shift, 0.0)
    hind = _gait(cycle) if deer.pose == "walk" else (-0.07 + 0.3 * shift, 0.0)
    parts = []
    for joints, widths, (swing, flex), bend, sign in (
        (HIND, HIND_WIDE, hind, 2, 1.0),
        (FRONT, FRONT_WIDE, front, 2, -1.0),
    ):
        leg = _leg(joints.copy(), swing, flex, bend, sign)
        shank = _dark(coat, 0.93)
        parts.append(Part(limb(leg[:4], widths[:4]), coat, 0.07, layer))
        parts.append(Part(limb(leg[2:], widths[2:]), shank, 0.028, layer))
        parts.append(Part(limb(leg[4:], widths[4:] * 0.9), DARK, 0.02, layer))
    return parts


def _torso(deer: Deer, coat: Color) -> list[Part]:
    back = _dark(coat, 0.82)
    body = "-55,90 -44,98.5 -22,98.5 2,95.5 22,97.5 36,98.5 49,90 54.5,76 49,62 33,52 8,50 -16,54.5"
    belly = "40,48 38,55 10,55.5 -20,60 -36,62 -20,48 10,45"
    return [
        Part(outline("-55.5,90 -58.5,80 -60,68 -57.5,66 -54.5,74 -53,86"), WHITE, 0.02),
        Part(outline("-53.5,94.5 -60,88 -62.5,76 -60,67 -56.5,72 -55,84"), back, 0.03),
        Part(_sagged(outline(f"{body} -33,60 -50,66 -57.5,78"), deer), coat, 0.21),
        Part(_sagged(outline(belly), deer), WHITE, 0, soft=0.03),
        Part(outline("-54,95 -20,103 30,103 42,97 20,94.5 -20,94 -48,93"), back, 0, soft=0.03),
    ]


def _sagged(points: Array, deer: Deer) -> Array:
    """An old buck's chest and belly hang lower."""
    low = np.clip((0.66 - points[:, 1]) / 0.14, 0, 1)
    return points - np.stack([0 * low, 0.3 * (deer.depth - 1) * low], 1)


NECK_BASE = (0.36, 0.90)


def _swung(points: Array, pose: str, skull: bool = False) -> Array:
    """Points of the neck or head in their pose."""
    out = np.asarray(points, np.float32)
    if skull:
        out = turned(out, (0.72, 1.28), SKULL_TURN[pose])
    return turned(out, NECK_BASE, HEAD_TURN[pose]) + f32(REACH[pose])


def _neck(deer: Deer, coat: Color) -> list[Part]:
    full = 0.055 * (deer.neck - 1) * 4
    top = f32([[0.18, 0.93], [0.38, 1.005 + 0.3 * full], [0.55, 1.20 + 0.3 * full], [0.68, 1.345]])
    under = f32(
        [[0.775, 1.20], [0.70, 1.07 - full], [0.62, 0.90 - full], [0.53, 0.74], [0.36, 0.72]]
    )
    if deer.pose == "feed":
        under[-2:] += f32([[-0.04, 0.06], [0, 0.05]])
    weight = f32([0, 0.6, 1, 1, 1, 1, 1, 0.35, 0])[:, None]
    still = np.concatenate([top, under])
    ring = still + (_swung(still, deer.pose) - still) * weight
    patch = _swung(outline("80,120.5 74,123 69,116 70,108 76,113"), deer.pose)
    return [Part(blob(ring), coat, 0.13), Part(patch, WHITE, 0, soft=0.012)]


def _head(deer: Deer, coat: Color) -> list[Part]:
    def at(cm: str) -> Array:
        return _swung(outline(cm), deer.pose, skull=True)

    face = _dark(coat, 0.92)
    brow = _dark(coat, 0.62)
    ring = _mixed(coat, WHITE, 0.45)
    jaw = "97.5,115.5 92,115 84,116.5 75,118 68,122"
    return [
        Part(at(f"66,131 73,137 80,136.5 88,131 96.5,123.5 99.5,119.5 {jaw}"), face, 0.065),
        Part(at("76,137.2 85,133.5 94,126.2 90,126.2 80,131.5"), brow, 0, soft=0.008),
        Part(at("96.5,116.5 91,114.5 84,116 88,118.5 94.5,119"), WHITE, 0, soft=0.008),
        Part(at("94.5,124 92.5,121 94.5,118 96,120"), WHITE, 0, soft=0.006),
        Part(at("99,122.5 100.5,120 98.5,117.8 96.2,120 96.8,123.2"), DARK, 0.012),
        Part(at("78.5,131.3 81.2,132.6 83.2,130 80.5,128.4"), ring, 0, soft=0.009),
        Part(at("79.8,131.2 81.7,131.7 82.5,130.2 80.5,129.6"), DARK, 0),
    ]


def _ear(deer: Deer, coat: Color, layer: int) -> list[Part]:
    def at(cm: str) -> Array:
        return _swung(outline(cm), deer.pose, skull=True)

    outer, inner = (
        ("70,133 70.5,145 70,152 66.5,153.5 62.5,147 62,134.5 67,130.5", "68,136 68.5,147 65,144"),
        (
            "70,133 65.5,140 60,147 56.5,148.5 57.5,142 62,134.5 67,130.5",
            "68.5,134 60,144.5 64,135",
        ),
    )[layer]
    return [
        Part(at(outer), _dark(coat, 0.8), 0.025, layer),
        Part(at(inner), _mixed(coat, WHITE, 0.5), 0, layer, 0.008),
    ]


SPOTS = (0.09, 0.36, 0.58, 0.76, 0.88)  # where along the beam its tines stand
YAW = 0.36  # how far the head is turned out of the side view, so that the spread shows [rad]


def _antler(deer: Deer, side: int, layer: int) -> list[Part]:
    """One antler: a beam that sweeps up, out and forward, tines upright on it."""
    horn = deer.antlers
    if horn is None:
        return []
    tines = horn.odd if horn.odd is not None and side < 0 else horn.tines
    t = np.linspace(0, 1, 14)
    ahead = horn.beam * (-0.26 * np.sin(np.pi * np.minimum(t * 1.15, 1)) + 0.46 * t**2.2)
    up = horn.beam * (0.54 * np.sin(np.pi / 2 * np.minimum(t * 1.15, 1)) - 0.03 * t**3)
    out = 0.03 + (horn.spread / 2 - 0.03) * np.sin(np.pi * np.minimum(0.62 * t**0.8, 0.56))
    thick = horn.mass * (1 - 0.72 * t) * (1.5 if deer.velvet else 1.0)
    ink = VELVET if deer.velvet else BONE
    beam = _seen(deer, ahead, up, side * out)
    parts = [Part(limb(beam, thick), ink, 0.012, layer)]
    for spot, length in zip(SPOTS, tines, strict=False):
        base = [float(np.interp(spot, t, course)) for course in (ahead, up, out)]
        parts.append(Part(_tine(deer, base, spot, length, side), ink, 0.01, layer))
    return parts


def _tine(deer: Deer, base: list[float], spot: float, length: float, side: int) -> Array:
    """A tine on the beam at base (ahead, up, out [m]); the first leans forward over the brow."""
    mass = deer.antlers.mass if deer.antlers else 0.0
    s = np.linspace(0, 1, 5)
    lean = 0.30 if spot < 0.2 else 0.05 - 0.2 * spot
    ahead = base[0] + length * (lean * s + 0.12 * s * s)
    out = side * (base[2] - 0.1 * length * s)
    wide = mass * (1.05 if deer.velvet else 0.62) * (1 - 0.75 * s)
    return limb(_seen(deer, ahead, base[1] + length * 0.96 * s, out), np.maximum(wide, 0.006))


def _seen(deer: Deer, ahead: Array, up: Array, out: Array) -> Array:
    x = 0.715 + ahead * np.cos(YAW) + out * np.sin(YAW)
    y = 1.352 + up + 0.16 * out
    return _swung(np.stack([x, y], 1).astype(np.float32), deer.pose, skull=True)


@lru_cache(maxsize=220)
def deer_figure(deer: Deer) -> Figure:
    """A deer from its far side to its near side; its size is left to the placing."""
    coat = SUMMER if deer.coat == "summer" else WINTER
    parts = [*_legs(deer, coat, 0), *_ear(deer, coat, 0), *_antler(deer, -1, 0)]
    parts += [*_torso(deer, coat), *_legs(deer, coat, 1), *_neck(deer, coat), *_head(deer, coat)]
    parts += [*_ear(deer, coat, 1), *_antler(deer, 1, 1)]
    eye = _swung(f32([[0.812, 1.306]]), deer.pose, skull=True)[0]
    return build(parts, (float(eye[0]), float(eye[1])))
