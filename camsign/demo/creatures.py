"""The animals and people that pass, put together from the outlines in creatures.toml."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from camsign.demo.figures import Patch, Sprite, blob, build, cm, limb, turned
from camsign.demo.land import Antlers
from camsign.demo.paint import Array, Color, f32

Move = Callable[[Array], Array]

_DATA = tomllib.loads(Path(__file__).with_name("creatures.toml").read_text(encoding="utf-8"))
_INKS: dict[str, Color] = {name: tuple(color) for name, color in _DATA["inks"].items()}


def _toward(color: Color, end: str | None, share: float) -> Color:
    """A color moved a share of the way to another, to black if `end` is None."""
    goal = _INKS[end] if end else (0, 0, 0)
    b, g, r = (int(a * (1 - share) + c * share) for a, c in zip(color, goal, strict=True))
    return b, g, r


def _patches(
    rows: list[dict[str, Any]], own: dict[str, Color], moves: dict[str, Move], layer: int = 1
) -> list[Patch]:
    """The parts of one table: `own` colors beside the inks, `moves` by name."""
    parts = []
    for row in rows:
        at = limb(cm(row["limb"]), row["wide"]) if "limb" in row else blob(cm(row["at"]))
        color = (_INKS | own)[row["ink"]]
        if "pale" in row:
            color = _toward(color, "white", row["pale"])
        color = _dark(color, row.get("dark", 1))
        at = moves[row["move"]](at) if "move" in row else at
        parts.append(Patch(at, color, row.get("bulge", 0), layer, row.get("soft", 0)))
    return parts


def _dark(color: Color, factor: float) -> Color:
    b, g, r = (int(part * factor) for part in color)
    return b, g, r


_STANCE = 0.62  # the share of its cycle in which a foot is on the ground
_TINES_AT = (0.09, 0.36, 0.58, 0.76, 0.88)  # where along the beam
_YAW = 0.36  # how far the head is turned out of the side view, so that the spread shows [rad]


@dataclass(frozen=True)
class Deer:
    """How one deer is built and what it does now; an old buck is deep, a rutting neck is thick."""

    antlers: Antlers | None = None
    depth: float = 1.0
    neck: float = 1.0
    coat: str = "winter"
    velvet: bool = False
    pose: str = "walk"  # walk, alert, feed
    phase: int = 0  # of eight in a walking cycle

    @cached_property
    def color(self) -> Color:
        """The color of its coat."""
        return _INKS[self.coat]

    def skull(self, points: Array) -> Array:
        """Points of the head in its pose."""
        return self.swung(turned(points, (0.72, 1.28), _DATA["pose"][self.pose]["skull"]))

    def swung(self, points: Array) -> Array:
        """Points of the neck in its pose."""
        pose = _DATA["pose"][self.pose]
        return turned(points, (0.36, 0.90), pose["neck"]) + f32(pose["reach"])

    def sagged(self, points: Array) -> Array:
        """An old buck's chest and belly hang lower."""
        low = np.clip((0.66 - points[:, 1]) / 0.14, 0, 1)
        return points - np.stack([0 * low, 0.3 * (self.depth - 1) * low], 1)

    def group(self, name: str, layer: int = 1) -> list[Patch]:
        """The parts of a table of the deer."""
        moves: dict[str, Move] = {"skull": self.skull, "neck": self.swung, "sag": self.sagged}
        return _patches(_DATA["deer"][name], {"coat": self.color}, moves, layer)

    def legs(self, layer: int) -> list[Patch]:
        """A hind and a front leg, half a cycle apart on the two sides."""
        shift, walks, table = 0.0 if layer else 0.5, self.pose == "walk", _DATA["deer"]
        cycle = self.phase / 8 + shift
        parts = []
        for name, swing, bend in (
            ("hind", _gait(cycle) if walks else (-0.07 + 0.3 * shift, 0.0), 1.0),
            ("front", _gait(cycle + 0.25) if walks else (0.05 - 0.22 * shift, 0.0), -1.0),
        ):
            leg, wide = _leg(cm(table[name]), *swing, bend), f32(table[f"{name}_wide"])
            shank = _dark(self.color, 0.93)
            parts.append(Patch(limb(leg[:4], wide[:4]), self.color, 0.07, layer))
            parts.append(Patch(limb(leg[2:], wide[2:]), shank, 0.028, layer))
            parts.append(Patch(limb(leg[4:], wide[4:] * 0.9), _INKS["dark"], 0.02, layer))
        return parts

    def throat(self) -> list[Patch]:
        """The neck, which follows the head and stays on the shoulder, and its white patch."""
        full = 0.055 * (self.neck - 1) * 4
        top = [[0.18, 0.93], [0.38, 1.005 + 0.3 * full], [0.55, 1.20 + 0.3 * full], [0.68, 1.345]]
        under = [
            [0.775, 1.20],
            [0.70, 1.07 - full],
            [0.62, 0.90 - full],
            [0.53, 0.74],
            [0.36, 0.72],
        ]
        still = f32([*top, *under])
        if self.pose == "feed":
            still[-2:] += f32([[-0.04, 0.06], [0, 0.05]])
        weight = f32([0, 0.6, 1, 1, 1, 1, 1, 0.35, 0])[:, None]
        ring = still + (self.swung(still) - still) * weight
        return [Patch(blob(ring), self.color, 0.13), *self.group("throat")]

    def antler(self, side: int, layer: int) -> list[Patch]:
        """One antler: a beam that sweeps up, out and forward, tines upright on it."""
        horn = self.antlers
        if horn is None:
            return []
        tines = horn.odd if horn.odd is not None and side < 0 else horn.tines
        ink = _INKS["velvet" if self.velvet else "bone"]
        t = np.linspace(0, 1, 14)
        early = np.minimum(t * 1.15, 1)
        ahead = horn.beam * (-0.26 * np.sin(np.pi * early) + 0.46 * t**2.2)
        up = horn.beam * (0.54 * np.sin(np.pi / 2 * early) - 0.03 * t**3)
        out = 0.03 + (horn.spread / 2 - 0.03) * np.sin(np.pi * np.minimum(0.62 * t**0.8, 0.56))
        thick = horn.mass * (1 - 0.72 * t) * (1.5 if self.velvet else 1.0)
        parts = [Patch(limb(self._seen(ahead, up, side * out), thick), ink, 0.012, layer)]
        for spot, length in zip(_TINES_AT, tines, strict=False):
            base = [float(np.interp(spot, t, course)) for course in (ahead, up, out)]
            tine = self._tine(horn.mass, base, spot, length, side)
            parts.append(Patch(tine, ink, 0.01, layer))
        return parts

    def _tine(self, mass: float, base: list[float], at: float, length: float, side: int) -> Array:
        """A tine on the beam at base (ahead, up, out [m]); the first leans forward on the brow."""
        s = np.linspace(0, 1, 5)
        lean = 0.30 if at < 0.2 else 0.05 - 0.2 * at
        ahead = base[0] + length * (lean * s + 0.12 * s * s)
        out = side * (base[2] - 0.1 * length * s)
        wide = mass * (1.05 if self.velvet else 0.62) * (1 - 0.75 * s)
        return limb(self._seen(ahead, base[1] + length * 0.96 * s, out), np.maximum(wide, 0.006))

    def _seen(self, ahead: Array, up: Array, out: Array) -> Array:
        x, y = 0.715 + ahead * np.cos(_YAW) + out * np.sin(_YAW), 1.352 + up + 0.16 * out
        return self.skull(f32(np.stack([x, y], 1)))


def _gait(phase: float) -> tuple[float, float]:
    """Swing of a leg [rad] and flex of its knee [rad] at a phase (0 to 1) of its cycle."""
    phase %= 1.0
    if phase < _STANCE:
        return 0.34 * (1 - 2 * phase / _STANCE), 0.0
    part = (phase - _STANCE) / (1 - _STANCE)
    return 0.34 * (2 * part - 1), 0.95 * float(np.sin(np.pi * part))


def _leg(joints: Array, swing: float, flex: float, bend: float) -> Array:
    """Joints of a leg swung about the hip and flexed at the third, its hoof back on the ground."""
    leg = turned(joints, joints[0], swing)
    if flex > 0:
        leg[3:] = turned(leg[3:], leg[2].copy(), bend * flex)
    else:
        leg[-2:, 1] -= leg[-1, 1]
    return leg


@lru_cache(maxsize=220)
def deer_figure(deer: Deer) -> Sprite:
    """A deer from its far side to its near side; its size is left to the placing."""
    parts = [*deer.legs(0), *deer.group("far_ear", 0), *deer.antler(-1, 0)]
    parts += [*deer.group("torso"), *deer.legs(1), *deer.throat(), *deer.group("head")]
    parts += [*deer.group("near_ear"), *deer.antler(1, 1)]
    eye = deer.skull(f32([[0.812, 1.306]]))[0]
    return build(parts, (float(eye[0]), float(eye[1])))


@lru_cache(maxsize=64)
def other_figure(what: str, phase: int, orange: bool) -> Sprite:
    """A coyote or a person (phase of eight) or a squirrel, which lifts its head at odd phases.

    A person wears an orange vest and cap in the gun season.
    """
    table = _DATA[what]
    lift = f32([0, 0.03 * (phase % 2)]) if what == "squirrel" else f32([0, 0])
    own, moves = {"vest": _INKS["orange" if orange else "olive"]}, {"lift": lambda at: at + lift}
    swing = (0.36 if what == "person" else 0.42) * float(np.cos(2 * np.pi * phase / 8))
    parts = [*_limbs(what, -swing, swing, 0), *_patches(table["behind"], own, moves)]
    parts += [*_limbs(what, swing, -swing, 1), *_patches(table["before"], own, moves)]
    eye = (table["eye"][0], table["eye"][1] + float(lift[1])) if "eye" in table else None
    return build(parts, eye, table["fur"])


def _limbs(what: str, one: float, other: float, layer: int) -> list[Patch]:
    if what == "squirrel":
        return []
    return _paws(one, other, layer) if what == "coyote" else _walker(one, other, layer)


def _paws(front: float, hind: float, layer: int) -> list[Patch]:
    """A coyote's legs of one side."""
    table = _DATA["coyote"]
    fore = turned(cm(table["fore"]), (0.22, 0.42), front)
    back = turned(cm(table["hind"]), (-0.28, 0.44), hind)
    fore[:, 1] -= fore[-1, 1] - 0.08 * abs(np.sin(front))
    back[:, 1] -= back[-1, 1] * np.linspace(0, 1, 5)
    return [
        Patch(limb(back, table["hind_wide"]), _INKS["coyote"], 0.04, layer),
        Patch(limb(fore, table["fore_wide"]), _INKS["buff"], 0.03, layer),
    ]


def _walker(leg: float, arm: float, layer: int) -> list[Patch]:
    """A person's leg and the arm of its side, which swings against it."""
    thigh = turned(f32([[0, 0.92], [0.02, 0.50]]), (0, 0.92), leg)
    heel = thigh[1] + turned(f32([[-0.01, -0.42]]), (0, 0), leg - (0.5 if leg < 0 else 0.05))[0]
    if leg >= 0:
        heel[1] = min(heel[1], 0.09)
    boot = heel + f32([[-0.05, -0.05], [0.05, -0.055], [0.19, -0.06]])
    sleeve = turned(f32([[-0.02, 1.40], [-0.04, 1.14]]), (-0.02, 1.40), arm * 0.8)
    hand = sleeve[1] + turned(f32([[0.06, -0.24]]), (0, 0), arm * 0.8 + 0.35)[0]
    palm = hand + f32([[-0.045, -0.03], [0, 0.02], [0.045, -0.03], [0, -0.08]])
    return [
        Patch(
            limb(np.vstack([thigh, heel]), f32([0.21, 0.155, 0.13])), _INKS["olive"], 0.07, layer
        ),
        Patch(limb(boot, f32([0.11, 0.105, 0.07])), _INKS["boot"], 0.04, layer),
        Patch(
            limb(np.vstack([sleeve, hand]), f32([0.14, 0.11, 0.085])), _INKS["olive"], 0.05, layer
        ),
        Patch(blob(palm), _INKS["skin"], 0.02, layer),
    ]
