"""Words on a map, each put where it covers neither a mark nor another word."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from camsign.report.style import INK, PAPER

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.transforms import Bbox

# Where a word may stand about its mark, best first: horizontal and vertical alignment.
_SIDES = (
    ("left", "center"), ("left", "bottom"), ("left", "top"), ("right", "center"),
    ("center", "bottom"), ("center", "top"), ("right", "bottom"), ("right", "top"),
)  # fmt: skip
_TOWARD = {"left": 1, "center": 0, "right": -1, "bottom": 1, "top": -1}
_DISTANCES = (8, 14, 22, 34, 48, 64)
_LED = 18
# A word over a mark costs 1; over another word neither is read. A line that leads across a mark
# seems to name that one.
_WORD, _ACROSS, _GOOD_ENOUGH = 4.0, 0.4, 0.39


class Labels:
    """Remembers what is covered already, in pixels of the picture."""

    def __init__(self, axes: Axes) -> None:
        self.axes = axes
        figure: Any = axes.figure
        self.renderer = figure.canvas.get_renderer()
        self.taken: list[tuple[Bbox, float]] = []

    def keep_free(
        self, points: Iterable[tuple[float, float]], half: float = 6.0, cost: float = 1.0
    ) -> None:
        """Keep words off marks at places in the axes' own coordinates, half a mark wide [px].

        `cost` is what it costs to cover one, of 1 for a mark that must be seen.
        """
        from matplotlib.transforms import Bbox

        found = list(points)
        for x, y in self.axes.transData.transform(found) if found else ():
            box = Bbox.from_extents(x - half, y - half, x + half, y + half)
            self.taken.append((box, cost))

    def keep_corner_free(self, low: tuple[float, float], high: tuple[float, float]) -> None:
        """Keep words out of a part of the map, given as shares of its width and height."""
        from matplotlib.transforms import Bbox

        self.taken.append((Bbox(self.axes.transAxes.transform([low, high])), 1.0))

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
        best: tuple[float, int, tuple[str, str], Bbox] | None = None
        note = self._note(words, x, y, size, style)
        for away in (d + clear for d in _DISTANCES):
            for side in (("center", "bottom"), *_SIDES) if above else _SIDES:
                box = self._box(note, away, side)
                cost = self._cost(box) + away / 200
                if away > _LED + clear and (best is None or cost < best[0]):
                    cost += _ACROSS * self._crossed(x, y, note.xyann)
                if best is None or cost < best[0]:
                    best = (cost, away, side, box)
            if best is not None and best[0] < _GOOD_ENOUGH:
                break
        if best is None:
            return
        self._box(note, best[1], best[2])
        self.taken.append((best[3], _WORD))
        if best[1] > _LED + clear:
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

    def _box(self, note: Any, away: int, side: tuple[str, str]) -> Bbox:
        across, up = side
        note.set(ha=across, va=up)
        note.xyann = (_TOWARD[across] * away, _TOWARD[up] * away)
        found: Bbox = note.get_window_extent(self.renderer)
        return found.padded(1.5)

    def _cost(self, box: Bbox) -> float:
        """What it costs to cover marks and words; what leaves the map costs as much as five."""
        inside = self.axes.get_window_extent(self.renderer)
        out = box.x0 < inside.x0 or box.x1 > inside.x1 or box.y0 < inside.y0 or box.y1 > inside.y1
        return float(sum(c for other, c in self.taken if box.overlaps(other)) + 5 * out)

    def _crossed(self, x: float, y: float, to: tuple[float, float]) -> int:
        """How many other marks and words a line from a place crosses; `to`: so far off [points]."""
        x0, y0 = self.axes.transData.transform((x, y))
        px = self.axes.figure.dpi / 72
        steps = [(x0 + to[0] * px * i / 12, y0 + to[1] * px * i / 12) for i in range(1, 13)]
        others = [box for box, _ in self.taken if not box.contains(x0, y0)]
        return sum(any(box.contains(*at) for at in steps) for box in others)

    def _lead(self, note: Any, x: float, y: float) -> None:
        self.axes.annotate(
            "", (x, y), xytext=note.xyann, textcoords="offset points", zorder=3,
            arrowprops={"arrowstyle": "-", "color": INK, "lw": 0.5},
        )  # fmt: skip
