"""One look for every picture: paper, ink, and marks that differ in shape as well as in color.

Colors are of the set that color-blind people tell apart (Okabe and Ito 2008); every meaning also
has a shape, a hatch or a word, so that a page printed in black and white says the same.
"""

from __future__ import annotations

import io
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any, Literal

from camsign.errors import UsageError
from camsign.logbook.placing import place

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PAPER, INK, QUIET = "#f4f1e8", "#22302b", "#6b7a72"
BLUE, ORANGE, GREEN = "#0072b2", "#d55e00", "#00634a"
# The light of day, gray and dark.
LIGHTS = {"day": "#e69f00", "gray": "#7f8f9b", "dark": "#2b3a55"}
ENDINGS = (".png", ".svg", ".pdf")
DPI = 120
TITLE_PT, SUB_PT = 12.5, 9.5
# As wide as a phone shows letters of this size, so that nothing needs to be made smaller [inches].
PHONE = 3.9
# A phone has some 2.4 dots for each of its pixels.
PHONE_DPI = 220


def bare_figure(
    width: float, height: float, layout: Literal["constrained"] | None = None
) -> Figure:
    """Give an empty figure of a size in inches, drawn without a window."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), dpi=DPI, facecolor=PAPER, layout=layout)
    FigureCanvasAgg(figure)
    return figure


def new_figure(width: float, height: float, title: str = "", sub: str = "") -> Figure:
    """Give an empty figure of a size in inches with words at its head.

    The words are broken where the figure ends, and make it as much higher as they need.
    """
    heads, subs = _broken(title, width, TITLE_PT * 0.68), _broken(sub, width, SUB_PT * 0.58)
    high = (1.3 * TITLE_PT * len(heads) + 1.3 * SUB_PT * len(subs) + 12) / 72
    figure = bare_figure(width, height + high, "constrained")
    engine: Any = figure.get_layout_engine()
    engine.set(rect=(0, 0, 1, height / (height + high)))
    top = 1 - 5 / 72 / (height + high)
    figure.text(0.1 / width, top, "\n".join(heads), va="top", fontsize=TITLE_PT, color=INK,
                weight="bold")  # fmt: skip
    top -= (1.3 * TITLE_PT * len(heads)) / 72 / (height + high)
    figure.text(0.1 / width, top, "\n".join(subs), va="top", fontsize=SUB_PT, color=INK)
    return figure


def _broken(words: str, width: float, letter_pt: float) -> list[str]:
    """Break words into lines that a width [inches] holds, for letters so wide on average."""
    return wrap(words, max(12, int((width - 0.2) * 72 / letter_pt)))


def plain_axes(axes: Axes) -> Axes:
    """Give axes the common look."""
    axes.set_facecolor(PAPER)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(QUIET)
    axes.tick_params(colors=INK, labelsize=9)
    axes.xaxis.label.set_color(INK)
    axes.yaxis.label.set_color(INK)
    return axes


def legend(figure: Figure, columns: int, in_order: bool = False) -> None:
    """Put the key of all axes below them, each of its words once; `in_order`: by name."""
    found = {
        words: handle
        for axes in figure.axes
        for handle, words in zip(*axes.get_legend_handles_labels(), strict=True)
    }
    if in_order:
        found = dict(sorted(found.items()))
    if found:
        figure.legend(found.values(), found.keys(), loc="outside lower left", ncols=columns,
                      frameon=False, fontsize=8.5, labelcolor=INK)  # fmt: skip


def html_of(template: str, **given: Any) -> str:
    """Give a page as HTML, from a template of this room."""
    import jinja2

    made = jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).with_name("templates")), autoescape=True,
        trim_blocks=True, lstrip_blocks=True, undefined=jinja2.StrictUndefined,
    )  # fmt: skip
    return made.get_template(template).render(**given)


def checked_ending(path: Path) -> str:
    """Give the form that a file's name asks for. Raises UsageError for another than ENDINGS."""
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        raise UsageError(f"{path.name} is no picture", f"end it in {', '.join(ENDINGS)}")
    return ending[1:]


def save(figure: Figure, path: Path) -> Path:
    """Write a figure as PNG, SVG or PDF, by the file's name. Raises UsageError for another."""
    place(path, as_bytes(figure, checked_ending(path)), read_only=False)
    return path


def as_bytes(figure: Figure, form: str = "png", dpi: int = DPI) -> bytes:
    """Give a figure as a file's bytes, the same each time."""
    import matplotlib as mpl

    told: dict[str, Any] = {"svg": {"Date": None}, "pdf": {"CreationDate": None}, "png": {}}
    out = io.BytesIO()
    with mpl.rc_context({"svg.hashsalt": "camsign"}):
        figure.savefig(out, format=form, dpi=dpi, facecolor=PAPER, metadata=told[form])
    return out.getvalue()
