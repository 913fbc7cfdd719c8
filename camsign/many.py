"""Several logbooks at once: each answers for itself, side by side; one buck may be known in two.

`camsign.open_many([...])` gives the questions as methods; each gives one DataFrame whose first
column `property` says whose row it is. Each logbook is opened in its own turn under its own lock.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Literal, TypedDict, Unpack

import pandas as pd

from camsign.answers.lake import Lake, Wanted
from camsign.answers.lake import open_lake as open_files
from camsign.answers.lake_compare import lake_compare
from camsign.answers.lake_visits import lake_visits
from camsign.answers.lake_when import lake_when
from camsign.answers.properties import Known, known, named
from camsign.answers.result import Answer
from camsign.api import Bounds, Logbook, open_logbook
from camsign.errors import UsageError
from camsign.flows.handover.lake import write_lake
from camsign.tags.links import link_buck


def open_many(paths: Iterable[str | Path]) -> Logbooks:
    """Open several logbooks. Raises UsageError if a folder holds none, or one is named twice."""
    return Logbooks([open_logbook(path) for path in paths])


class Logbooks:
    """Several logbooks. Texts and bounds as for one; see `camsign.api.Logbook`."""

    def __init__(self, books: Sequence[Logbook]) -> None:
        if not books:
            raise UsageError("no logbook was named", "name one or more folders")
        self.books = {
            name: Logbook(folder) for name, folder in named([b.folder for b in books]).items()
        }

    def known(self) -> Known:
        """Say who is who in them."""
        return known({name: book.folder for name, book in self.books.items()})

    def link(self, bucks: Mapping[str, str]) -> None:
        """Say that bucks of two properties are one: `{"hollow": "Old Quarrel", "gore": "Nine"}`.

        Raises:
            UsageError: there is no such property or buck, or they are not two.
        """
        lost = [name for name in bucks if name not in self.books]
        if lost or len(bucks) != 2:
            raise UsageError("a link is between two of these logbooks", ", ".join(self.books))
        who = self.known()
        (a, his), (b, other) = ((name, who.one(name, said)) for name, said in bucks.items())
        for name, one, to in ((a, his, other), (b, other, his)):
            with self.books[name].session() as session:
                link_buck(session, one.buck_id, to)

    def visits(
        self,
        buck: str | None = None,
        by: Literal["area", "camera"] = "area",
        split: Literal["month", "phase"] | None = None,
        against: str | None = None,
        **bounds: Unpack[Bounds],
    ) -> pd.DataFrame:
        """Say how often each buck is there; see `Logbook.visits`."""
        return self._each(
            lambda book, his: book.visits(his, None, by, split, against, **bounds), buck
        )

    def when(self, buck: str, area: str, **bounds: Unpack[Bounds]) -> pd.DataFrame:
        """Say when a buck is near an area, wherever both are known; see `Logbook.when`."""
        return self._each(lambda book, his: book.when(his or buck, area, **bounds), buck)

    def bedding(self, area: str, buck: str | None = None, **bounds: Unpack[Bounds]) -> pd.DataFrame:
        """Say whether an area is a bed; see `Logbook.bedding`."""
        return self._each(lambda book, his: book.bedding(area, his, **bounds), buck)

    def rivals(self, area: str, **bounds: Unpack[Bounds]) -> pd.DataFrame:
        """Say how many mature bucks compete; see `Logbook.rivals`."""
        return self._each(lambda book, _: book.rivals(area, **bounds))

    def compare(self, **bounds: Unpack[Bounds]) -> pd.DataFrame:
        """Say which areas deserve the sits, in each property; see `Logbook.compare`."""
        return self._each(lambda book, _: book.compare(**bounds))

    def lately(self, days: int | None = None, **bounds: Unpack[Bounds]) -> pd.DataFrame:
        """Say what is hot; see `Logbook.lately`."""
        return self._each(lambda book, _: book.lately(days, **bounds))

    def export_lake(self, folder: str | Path, exact_places: bool = False) -> None:
        """Bring each logbook's part of a lake up to date; see `flows.handover.lake`."""
        for book in self.books.values():
            with book.session() as session:
                write_lake(session, Path(folder), exact_places)

    def _each(
        self, ask: Callable[[Logbook, str | None], pd.DataFrame], buck: str | None = None
    ) -> pd.DataFrame:
        """Ask each in turn; `attrs` holds each answer's own by property, and who was left out.

        Raises:
            UsageError: what was asked for is known in none of them.
        """
        who = self.known()
        found: dict[str, pd.DataFrame] = {}
        left: dict[str, UsageError] = {}
        for name, book in self.books.items():
            try:
                found[name] = ask(book, who.word(name, buck) if buck else None)
            except UsageError as e:
                left[name] = e
        if not found:
            raise next(iter(left.values()))
        frames = [frame.assign(property=name) for name, frame in found.items()]
        full = [frame for frame in frames if len(frame)] or frames[:1]
        together = pd.concat(full, ignore_index=True)
        together.insert(0, "property", together.pop("property"))
        together.attrs = {
            "properties": {name: dict(frame.attrs) for name, frame in found.items()},
            "left_out": {name: str(e) for name, e in left.items()},
            "linked": who.linked(),
        }
        return together


def open_lake(folder: str | Path, memory: str = "1GB") -> LakeBook:
    """Open a lake that `export lake` wrote. Raises UsageError if the folder holds none."""
    book = LakeBook(Path(folder), memory)
    book.seasons()
    return book


class LakeBounds(TypedDict, total=False):
    """What narrows a question to a lake: see `camsign.answers.lake.Wanted`."""

    properties: Sequence[str] | None
    seasons: Sequence[int] | None
    bucks: Sequence[str] | None
    areas: Sequence[str] | None
    reach_m: float | None
    gap_s: float | None


class LakeBook:
    """A lake's questions as DataFrames; see docs/lake.md. `memory`: no more is held at once."""

    def __init__(self, folder: Path, memory: str) -> None:
        self.folder, self.memory = folder, memory

    def seasons(self) -> list[tuple[str, int]]:
        """Give every property's seasons."""
        with open_files(self.folder, self.memory) as lake:
            return [(one.property, one.season) for one in lake.seasons()]

    def visits(
        self, by: Literal["area", "property"] = "area", **bounds: Unpack[LakeBounds]
    ) -> pd.DataFrame:
        """Say how often each buck came, by property and season."""
        return self._ask(lambda lake, wanted: lake_visits(lake, wanted, by), bounds)

    def when(self, buck: str, **bounds: Unpack[LakeBounds]) -> pd.DataFrame:
        """Say in which light a buck comes, month by month."""
        return self._ask(lambda lake, wanted: lake_when(lake, buck, wanted), bounds)

    def compare(self, **bounds: Unpack[LakeBounds]) -> pd.DataFrame:
        """Set properties and seasons side by side."""
        return self._ask(lake_compare, bounds)

    def _ask(self, question: Callable[[Lake, Wanted], Answer], bounds: LakeBounds) -> pd.DataFrame:
        with open_files(self.folder, self.memory) as lake:
            return question(lake, Wanted(**bounds)).to_frame()
