"""Invented properties whose beds are known, to see what is found of them. Meters and radians."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import hypot

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


@dataclass
class World:
    """Rubs of a property: places [m], travel [rad], and where they come from.

    `beds` are (east, north, rubs); an edge is its middle, the bearing of its line [rad] and rubs.
    """

    east: Floats
    north: Floats
    travel: Floats
    beds: list[tuple[float, float, int]]
    edges: list[tuple[float, float, float, int]] = field(default_factory=list)

    def bed_error(self, east: float, north: float) -> tuple[float, int]:
        """Distance to the nearest bed [m], and which it is."""
        far = [hypot(east - b[0], north - b[1]) for b in self.beds] or [float("inf")]
        return min(far), far.index(min(far))

    def on_edge(self, east: float, north: float, within: float = 100.0) -> bool:
        """Whether a point lies near a feeding edge."""
        for x, y, line, _ in self.edges:
            along = np.linspace(-125, 125, 51)
            far = np.hypot(x + along * np.sin(line) - east, y + along * np.cos(line) - north)
            if far.min() < within:
                return True
        return False


@dataclass(frozen=True)
class Kind:
    """What sort of property: side [m], concentration of travel, reversed bearings, scattered rubs
    a square kilometer, rubs a bed, their mean distance [m], exits (None: to all sides), an edge,
    how far off each place was taken down (standard deviation east and north [m])."""

    side: float = 1500.0
    beds: tuple[int, int] = (2, 5)
    kappa: float = 5.0
    reverse: float = 0.1
    scattered: float = 60.0
    rubs: tuple[int, int] = (6, 40)
    distance: float = 60.0
    exits: tuple[int, int] | None = None
    edge: bool = True
    fix: float = 4.0


def invent(rng: np.random.Generator, kind: Kind = Kind()) -> World:
    """Invent a property; beds lie 250 m or more apart, a feeding edge 200 m or more from them."""
    beds: list[tuple[float, float, int]] = []
    parts: list[tuple[Floats, Floats, Floats]] = []
    for _ in range(rng.integers(kind.beds[0], kind.beds[1] + 1)):
        east, north = _apart(rng, kind, beds, 250.0)
        n = int(rng.integers(kind.rubs[0], kind.rubs[1] + 1))
        beds.append((east, north, n))
        parts.append(_of_bed(rng, kind, east, north, n))
    edges = []
    if kind.edge:
        middle = _apart(rng, kind, beds, 200.0 + 125.0)
        line, n = float(rng.uniform(0, np.pi)), int(rng.integers(20, 41))
        edges.append((*middle, line, n))
        parts.append(_of_edge(rng, kind, *middle, line, n))
    m = int(rng.poisson(kind.scattered * kind.side**2 / 1e6))
    scattered = rng.uniform(0, kind.side, (2, m))
    parts.append((scattered[0], scattered[1], rng.uniform(0, 2 * np.pi, m)))
    east_, north_, travel = (np.concatenate(p) for p in zip(*parts, strict=True))
    off = rng.normal(0, kind.fix, (2, len(travel)))
    return World(east_ + off[0], north_ + off[1], travel % (2 * np.pi), beds, edges)


def _apart(
    rng: np.random.Generator, kind: Kind, beds: list[tuple[float, float, int]], least: float
) -> tuple[float, float]:
    for _ in range(10_000):
        east, north = (float(x) for x in rng.uniform(150, kind.side - 150, 2))
        if all(hypot(east - b[0], north - b[1]) > least for b in beds):
            return east, north
    raise ValueError("the property is too small for its beds")


def _of_bed(
    rng: np.random.Generator, kind: Kind, east: float, north: float, n: int
) -> tuple[Floats, Floats, Floats]:
    out = rng.uniform(0, 2 * np.pi, n)
    if kind.exits:
        ways = rng.uniform(0, 2 * np.pi, rng.integers(kind.exits[0], kind.exits[1] + 1))
        out = ways[rng.integers(0, len(ways), n)] + rng.normal(0, 0.25, n)
    far = 10 + rng.gamma(2.0, (kind.distance - 10) / 2, n)
    travel = out + rng.vonmises(0, kind.kappa, n) + np.pi * (rng.random(n) < kind.reverse)
    return east + far * np.sin(out), north + far * np.cos(out), travel


def _of_edge(
    rng: np.random.Generator, kind: Kind, east: float, north: float, line: float, n: int
) -> tuple[Floats, Floats, Floats]:
    """A line of 250 m, rubbed across it in two opposite directions."""
    along, across = rng.uniform(-125, 125, n), rng.normal(0, 8, n)
    x = east + along * np.sin(line) + across * np.cos(line)
    y = north + along * np.cos(line) - across * np.sin(line)
    travel = line + np.pi / 2 + rng.vonmises(0, kind.kappa, n) + np.pi * (rng.random(n) < 0.5)
    return x, y, travel
