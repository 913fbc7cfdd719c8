"""One self-contained page: no network, no script, good on a phone, on paper and in ten years."""

from __future__ import annotations

import base64
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from camsign.logbook.placing import place
from camsign.report.style import PHONE_DPI, as_bytes, html_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture inside the page, with the words for who cannot see it; `small`: one of several,
    `wide`: slid sideways on a phone, where it could not be read; `phone`: shown there instead."""

    kind: str
    data: bytes
    words: str
    small: bool = False
    wide: bool = False
    phone: bytes = b""

    @property
    def source(self) -> str:
        """Give it as an address that holds all of it."""
        return _address(self.kind, self.data)

    @property
    def phone_source(self) -> str:
        """Give the one for a phone likewise."""
        return _address(self.kind, self.phone)


def _address(kind: str, data: bytes) -> str:
    return f"data:{kind};base64,{base64.b64encode(data).decode('ascii')}"


@dataclass(frozen=True, slots=True)
class Table:
    """A table: the words above its columns, and rows of what stands in them."""

    head: Sequence[str]
    rows: Sequence[Sequence[Any]]


@dataclass(frozen=True, slots=True)
class Section:
    """An answer: `said` first, then pictures and tables, why, and how it was figured."""

    title: str
    said: str
    pictures: Sequence[Picture]
    tables: Sequence[Table]
    why: Sequence[str]
    method: str


@dataclass(frozen=True, slots=True)
class Page:
    """A page: its title, a line about it, its answers, and what to be careful about."""

    title: str
    about: str
    sections: Sequence[Section]
    cautions: Sequence[str]


def picture_of(draw: Callable[[bool], Figure], words: str) -> Picture:
    """Give a chart as a picture for a page; `draw` makes it as wide as paper, or as a phone."""
    return Picture(
        "image/png", as_bytes(draw(False)), words, phone=as_bytes(draw(True), dpi=PHONE_DPI)
    )


def map_of(figure: Figure) -> Picture:
    """Give a map as a picture for a page."""
    return Picture("image/png", as_bytes(figure), "the map", wide=True)


def page_text(page: Page) -> str:
    """Give the page as HTML."""
    return html_of("report.html", page=page)


def write_page(page: Page, path: Path) -> Path:
    """Write the page into a file, whole or not at all."""
    place(path, page_text(page).encode(), read_only=False)
    return path
