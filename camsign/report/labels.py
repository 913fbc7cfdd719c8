"""Words on a map, each put where it covers neither a mark nor another word."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from camsign.arrays import Floats
from camsign.report.style import INK, PAPER

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Where a word may stand about its mark, best first: horizontal and vertical alignment.
_SIDES = (
    ("left", "center"), ("left", "bottom"), ("left", "top"), ("right", "center"),
    ("center", "bottom"), ("center", "top"), ("right", "bottom"), ("right", "top"),
)  # fmt: skip
_ABOVE = ("center", "bottom")
_TOWARD = {"left": 1, "center": 0, "right": -1, "bottom": 1, "top": -1}
_BEFORE = {"left": 0.0, "center": 0.5, "right": 1.0, "bottom": 0.0, "top": 1.0}
"""How much of words lies left of or below the point they are put at."""
_DISTANCES = (8, 14, 22, 34, 48)
_LED = 18
# A word over a mark costs 1; over another word neither is read. A line that leads across a mark
# seems to name that one.
_WORD, _ACROSS, _GOOD_ENOUGH = 4.0, 0.4, 0.39


def _tried(above: bool) -> list[tuple[int, tuple[str, str]]]:
    """Give how far off [points] and on which side words may stand, best first."""
    all_sides = [(away, side) for away in _DISTANCES for side in _SIDES]
    return [(away, _ABOVE) for away in _DISTANCES[:4] if above] + all_sides


class Labels:
    """Remembers what is covered already: in `taken` a row a box, left, bottom, right and top [px of
    the picture], and what it costs to cover it."""

    def __init__(self, axes: Axes) -> None:
        self.axes = axes
        figure: Any = axes.figure
        self.renderer = figure.canvas.get_renderer()
        self.inside = axes.get_window_extent(self.renderer).extents
        self.taken: Floats = np.zeros((0, 5))

    def keep_free(
        self, points: Iterable[tuple[float, float]], half: float = 6.0, cost: float = 1.0
    ) -> None:
        """Keep words off marks at places in the axes' own coordinates, half a mark wide [px].

        `cost` is what it costs to cover one, of 1 for a mark that must be seen.
        """
        found = list(points)
        for x, y in self.axes.transData.transform(found) if found else ():
            self._take((x - half, y - half, x + half, y + half), cost)

    def keep_corner_free(self, low: tuple[float, float], high: tuple[float, float]) -> None:
        """Keep words out of a part of the map, given as shares of its width and height."""
        self._take(self.axes.transAxes.transform([low, high]).ravel(), 1.0)

    def _take(self, box: Sequence[float] | Floats, cost: float) -> None:
        self.taken = np.vstack([self.taken, [*box, cost]])

    def put(
        self, words: str, x: float, y: float, size: float = 9.0, clear: int = 0,
        above: bool = False, **style: Any,
    ) -> None:  # fmt: skip
        """Write words beside a place; a thin line leads to it where they stand far from it.

        Args:
            words: what is written.
            x: the place in the axes' own coordinates.
            y: likewise.
            size: of the letters [points].
            clear: how much larger its mark is than others [points].
            above: over its place, where there is room.
            **style: how the letters look.
        """
        note = self._note(words, x, y, size, style)
        at = self.axes.transData.transform((x, y))
        wide = note.get_window_extent(self.renderer).size
        best: tuple[float, int, tuple[str, str], Floats] | None = None
        for away, side in _tried(above):
            if best is not None and best[0] < _GOOD_ENOUGH and away + clear != best[1]:
                break
            box = self._box(at, wide, away + clear, side)
            cost = self._cost(box) + away / 200
            if away > _LED and (best is None or cost < best[0]):
                cost += self._crossed(at, self._anchor(at, away + clear, side))
            if best is None or cost < best[0]:
                best = (cost, away + clear, side, box)
        if best is None:
            return
        _, away, (across, up), box = best
        note.set(ha=across, va=up)
        note.xyann = (_TOWARD[across] * away, _TOWARD[up] * away)
        self._take(box, _WORD)
        if away > _LED + clear:
            self._lead(note, x, y)

    def _note(self, words: str, x: float, y: float, size: float, style: dict[str, Any]) -> Any:
        from matplotlib.patheffects import withStroke

        halo = [withStroke(linewidth=2.6, foreground=PAPER)]
        given: dict[str, Any] = {
            "color": INK,
            "zorder": 9,
            "path_effects": halo,
            "linespacing": 1.25,
        } | style
        return self.axes.annotate(
            words, (x, y), xytext=(0, 0), textcoords="offset points", fontsize=size, **given
        )

    def _anchor(self, at: Floats, away: float, side: tuple[str, str]) -> Floats:
        """Where the corner or the middle of a side of words is put [px]."""
        toward = np.array([_TOWARD[side[0]], _TOWARD[side[1]]])
        return at + toward * away * self.axes.figure.dpi / 72

    def _box(self, at: Floats, size: Floats, away: float, side: tuple[str, str]) -> Floats:
        """What words of a size [px] cover, and a little about them."""
        part = np.array([_BEFORE[side[0]], _BEFORE[side[1]]])
        low = self._anchor(at, away, side) - part * size
        return np.concatenate([low - 1.5, low + size + 1.5])

    def _cost(self, box: Floats) -> float:
        """What it costs to cover marks and words; what leaves the map costs as much as five."""
        out = (box[:2] < self.inside[:2]).any() or (box[2:] > self.inside[2:]).any()
        t = self.taken
        hit = np.all((t[:, :2] <= box[2:]) & (t[:, 2:4] >= box[:2]), axis=1)
        return float(t[hit, 4].sum() + 5 * out)

    def _crossed(self, at: Floats, to: Floats) -> float:
        """What it costs to lead a line across marks and words, from a place to its words [px]."""
        t = self.taken
        others = t[~np.all((t[:, :2] <= at) & (t[:, 2:4] >= at), axis=1)]
        steps = at + np.linspace(0, 1, 31)[1:, None] * (to - at)
        within = (others[:, None, :2] <= steps) & (others[:, None, 2:4] >= steps)
        across = np.any(np.all(within, axis=2), axis=1)
        return float(_ACROSS * others[across, 4].sum())

    def _lead(self, note: Any, x: float, y: float) -> None:
        self.axes.annotate(
            "", (x, y), xytext=note.xyann, textcoords="offset points", zorder=3,
            arrowprops={"arrowstyle": "-", "color": INK, "lw": 0.5},
        )  # fmt: skip
