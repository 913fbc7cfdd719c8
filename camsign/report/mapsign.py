"""What was worked out, on a map: lines of rubs, the hubs they point away from, where a buck was."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import cos, radians, sin
from typing import TYPE_CHECKING, Any

from camsign.answers.ground import CameraOrSign
from camsign.report.style import INK
from camsign.sign.lines import LineRow
from camsign.sign.marks import CAMERA, MARKS
from camsign.sign.proposals import Proposal

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from pyproj import Proj

    from camsign.answers.ground import Pictured

HUB = "rubs radiate from here (95%)"
_RUB = MARKS["rub"].paper


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """What a map shows beside what lies there: `lines` of rubs, `hubs` with their region, and by
    deployment what was seen of one buck (`seen`; empty: of no one buck)."""

    lines: Sequence[LineRow] = ()
    hubs: Sequence[Proposal] = ()
    seen: Mapping[str, Pictured] = field(default_factory=dict)


def draw_lines(axes: Axes, lines: Sequence[LineRow], plane: Proj) -> None:
    """Draw each line of rubs through its rubs, dotted to where it leads on, with a head there."""
    for i, one in enumerate(lines):
        x, y = plane([p[1] for p in one.points], [p[0] for p in one.points])
        axes.plot(x, y, color=_RUB, lw=5, alpha=0.22, zorder=2.5, solid_capstyle="round",
                  label=None if i else "line of rubs; dotted: leads on")  # fmt: skip
        here, there = (plane(p[1], p[0]) for p in (one.end, one.goes_to))
        axes.annotate("", there, here, zorder=3, arrowprops={
            "arrowstyle": "-|>", "color": _RUB, "lw": 1.5, "ls": (0, (1, 2)), "mutation_scale": 11,
            "shrinkA": 0, "shrinkB": 0})  # fmt: skip


def led_on(lines: Sequence[LineRow], plane: Proj) -> list[tuple[float, float]]:
    """Give points along each line's dotted part [m], so that no word is put there."""
    ends = [[plane(p[1], p[0]) for p in (one.end, one.goes_to)] for one in lines]
    return [at for both in ends for at in along(both)]


def along(line: Sequence[tuple[float, float]], steps: int = 8) -> list[tuple[float, float]]:
    """Give points along a path [m], so many a stretch."""
    return [
        (x0 + (x1 - x0) * i / steps, y0 + (y1 - y0) * i / steps)
        for (x0, y0), (x1, y1) in pairwise(line)
        for i in range(steps + 1)
    ]


def draw_hubs(axes: Axes, hubs: Sequence[Proposal], plane: Proj) -> None:
    """Draw the region of each hub as a dashed ellipse with a cross in its middle."""
    from matplotlib.patches import Ellipse

    known = [(h, h.region_m, h.region_deg) for h in hubs if h.region_m and h.region_deg is not None]
    for hub, (major, minor), turn in known:
        x, y = plane(hub.lon, hub.lat)
        axes.add_patch(Ellipse((x, y), 2 * minor, 2 * major, angle=-turn, fill=False,
                               edgecolor=INK, lw=1.3, ls=(0, (5, 2)), zorder=6))  # fmt: skip
        axes.plot([x], [y], marker="+", ms=7, mew=1.3, color=INK, zorder=6)
    if known:
        axes.plot([], [], ls="", marker=_hub_mark(), ms=14, mfc="none", mec=INK, mew=1.2,
                  label=HUB)  # fmt: skip


def rims(hubs: Sequence[Proposal], plane: Proj) -> list[tuple[float, float]]:
    """Give points along the edge of each hub's region [m], so that no word is struck through."""
    found = []
    for hub in hubs:
        (major, minor), turn = hub.region_m or (0.0, 0.0), radians(hub.region_deg or 0.0)
        x, y = plane(hub.lon, hub.lat)
        for t in (radians(a) for a in range(0, 360, 15)):
            long, across = major * cos(t), minor * sin(t)
            found.append((x + long * sin(turn) + across * cos(turn),
                          y + long * cos(turn) - across * sin(turn)))  # fmt: skip
    return found


def _hub_mark() -> Any:
    """A hub as it is drawn, for the key: a dashed ring about a cross."""
    from matplotlib.path import Path

    turns = [(radians(a), radians(a + 15), radians(a + 30)) for a in range(0, 360, 45)]
    dashes = [[(sin(t), cos(t)) for t in three] for three in turns]
    cross = [[(-0.4, 0.0), (0.4, 0.0)], [(0.0, -0.4), (0.0, 0.4)]]
    return Path.make_compound_path(*map(Path, dashes + cross))


def draw_seen(
    axes: Axes, cameras: Sequence[CameraOrSign], seen: Mapping[str, Pictured], plane: Proj
) -> None:
    """Draw a ring about each camera that pictured the buck."""
    his = [c for c in cameras if c.id in seen and seen[c.id].visits]
    if his:
        x, y = plane([c.lon for c in his], [c.lat for c in his])
        axes.scatter(x, y, marker="o", s=330, facecolor="none", edgecolor=CAMERA.paper,
                     linewidths=2.2, zorder=6.5)  # fmt: skip
        axes.scatter([], [], marker="o", s=90, facecolor="none", edgecolor=CAMERA.paper,
                     linewidths=2.2, label="pictured him; light: shooting light")  # fmt: skip


def words_of(one: CameraOrSign, seen: Mapping[str, Pictured]) -> str:
    """Give a camera's words: its name, when it was moved, what was seen there of the buck."""
    moved = f", moved {one.moved_on:%b} {one.moved_on.day}" if one.moved_on else ""
    his = seen.get(one.id)
    return f"{one.name}{moved}" + (f"\n{his.in_words()}" if his else "")


def hub_words(hub: Proposal) -> str:
    """Give what is written at a hub that no drawn area answers yet."""
    return f"{hub.kind}? ({hub.rubs} rubs)"
