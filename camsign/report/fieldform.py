"""A page to print and fill in outdoors: boxes, and the words that taking in a file reads."""

from __future__ import annotations

from pathlib import Path

from camsign.logbook.placing import place
from camsign.logbook.things import AREA_KINDS, PLACE_KINDS, SIGN_KINDS
from camsign.report.style import html_of
from camsign.sign.kinds import MEASURES
from camsign.units import UnitSystem

EXAMPLES = {
    "imperial": ("rub going NE alder 2in fresh top 34in", "rub bare SW red oak 4in",
                 "scrape active branch 5ft", "bed length 50in buck", "CAM07 facing NE",
                 "stand Ledge Pine", "bedding Brindle Knob 80yd"),
    "metric": ("rub going NE alder 5cm fresh top 86cm", "rub bare SW red oak 10cm",
               "scrape active branch 150cm", "bed length 127cm buck", "CAM07 facing NE",
               "stand Ledge Pine", "bedding Brindle Knob 75m"),
}  # fmt: skip
"""Lines as they may be typed into a handheld or a table, and are read back."""
BLANK = 8


def form_text(units: UnitSystem) -> str:
    """Give the form as HTML."""
    return html_of(
        "fieldform.html", measures={kind: list(MEASURES[kind]) for kind in SIGN_KINDS},
        places=PLACE_KINDS, areas=AREA_KINDS, examples=EXAMPLES[units],
        unit="inches" if units == "imperial" else "centimeters", blank=range(BLANK),
    )  # fmt: skip


def write_form(path: Path, units: UnitSystem) -> Path:
    """Write the form into a file, whole or not at all."""
    place(path, form_text(units).encode(), read_only=False)
    return path
