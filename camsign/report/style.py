"""One look for every picture: paper, ink, and marks that differ in shape as well as in color.

Colors are of the set that color-blind people tell apart (Okabe and Ito 2008); every meaning also
has a shape, a hatch or a word, so that a page printed in black and white says the same.
"""

from __future__ import annotations

import io
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from camsign.errors import UsageError

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PAPER, INK, QUIET = "#f4f1e8", "#22302b", "#6b7a72"
BLUE, ORANGE, GREEN, PURPLE = "#0072b2", "#d55e00", "#00634a", "#7a4d9e"
# The light of day, gray and dark.
LIGHTS = {"day": "#e69f00", "gray": "#7f8f9b", "dark": "#2b3a55"}
ENDINGS = (".png", ".svg", ".pdf")
DPI = 120


def new_figure(width: float, height: float) -> Figure:
    """Give an empty figure of a size in inches, drawn without a window."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), dpi=DPI, facecolor=PAPER, layout="constrained")
    FigureCanvasAgg(figure)
    return figure


def plain_axes(axes: Axes, title: str, sub: str = "") -> Axes:
    """Give axes the common look, with what they show in words above."""
    axes.set_facecolor(PAPER)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(QUIET)
    axes.tick_params(colors=INK, labelsize=9)
    words = f"{title}\n" if sub else title
    axes.set_title(words, loc="left", fontsize=12.5, color=INK, weight="bold", pad=10)
    if sub:
        axes.annotate(sub, (0, 1), xytext=(0, 10), xycoords="axes fraction",
                      textcoords="offset points", fontsize=9.5, color=INK)  # fmt: skip
    return axes


def day_words(day: date) -> str:
    """Give a day as people write it, such as `Nov 4, 2025`."""
    return f"{day:%b} {day.day}, {day.year}"


def checked_ending(path: Path) -> str:
    """Give the form that a file's name asks for. Raises UsageError for another than ENDINGS."""
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        raise UsageError(f"{path.name} is no picture", f"end it in {', '.join(ENDINGS)}")
    return ending[1:]


def save(figure: Figure, path: Path) -> Path:
    """Write a figure as PNG, SVG or PDF, by the file's name. Raises UsageError for another."""
    from camsign.logbook.placing import place

    place(path, as_bytes(figure, checked_ending(path)), read_only=False)
    return path


def as_bytes(figure: Figure, form: str = "png") -> bytes:
    """Give a figure as a file's bytes, the same each time."""
    import matplotlib as mpl

    told: dict[str, Any] = {"svg": {"Date": None}, "pdf": {"CreationDate": None}, "png": {}}
    out = io.BytesIO()
    with mpl.rc_context({"svg.hashsalt": "camsign"}):
        figure.savefig(out, format=form, facecolor=PAPER, metadata=told[form])
    return out.getvalue()
