"""What is told of areas that were compared: a row for each, and the answer in a sentence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import ClassVar

from camsign.answers.evenings import EVENINGS
from camsign.answers.odds import whole_tries
from camsign.answers.result import SPARE, Answer, Figure, Watch, ageless_came, too_little
from camsign.answers.unsorted import but_unsorted_at, sort_first, waiting_at

FEWER = "One stand covers only some of the trails, so you'd see fewer."
WHOSE = {"bucks": "mature bucks", "does": "does and fawns"}


@dataclass(frozen=True, slots=True)
class Compared:
    """One area.

    `evening_walks_per_10_days`: what areas are ranked by: mature bucks that leave a bed here or
    walk through in shooting light, in ten evenings, if every way were covered; pictures are fewer.
    `evenings_with_one_per_10`: the evenings of ten on which at least one of them does.
    `verdict`: whether a mature buck beds there. `visits`: of mature bucks in shooting light;
    `identified`: the share of the bucks' visits in shooting light there that carry a sure name, by
    which the rate is raised. `sign`, `sign_per_ha`,
    `sign_per_km_walked`: rubs, beds and scrapes in reach, per hectare, and per kilometer walked
    where paths are known; `newest_sign`: the latest day by which any was made.
    """

    area: str
    area_id: str
    kind: str | None
    rank: int
    tied_with: tuple[str, ...]
    evening_walks_per_10_days: Figure
    evenings_with_one_per_10: Figure
    shooting_light_visits_per_10_days: Figure
    visits: int
    day: int
    gray: int
    identified: Figure
    verdict: str
    rivals: Figure
    sign_per_ha: float
    sign_per_km_walked: float | None
    newest_sign: date | None
    seasons: int
    nights_watched: int
    why: tuple[str, ...]
    sign: int = 0

    @property
    def counts(self) -> bool:
        """Whether anything can be told of it: somebody watched, and looked at most pictures."""
        return self.shooting_light_visits_per_10_days.value is not None

    @property
    def spread(self) -> str:
        """The interval of that: `anywhere from none to all 10`."""
        ends = self.evenings_with_one_per_10
        low, high = (round(x or 0.0) for x in (ends.low, ends.high))
        high = min(max(high, low + 1), EVENINGS)  # no interval has no width
        often = (self.evenings_with_one_per_10.value or 0.0) >= 1.5  # else of another number
        most = f"all {EVENINGS}" if high == EVENINGS else f"{high}{'' if often else ' in 10'}"
        return f"anywhere from {low or 'none'} to {most}"

    @property
    def evenings(self) -> str:
        """On how many evenings a mature buck comes out in light: `about 7 of the next 10 evenings`,
        next after the last night covered."""
        often = self.evenings_with_one_per_10.value or 0.0
        walks = self.evening_walks_per_10_days.value or 0.0
        more = ", some evenings more than one" if walks >= often + 1 else ""
        if often >= EVENINGS - 0.5:
            return f"nearly every evening{more}"
        if often >= 1.5:
            return f"about {often:.0f} of the next {EVENINGS} evenings{more}"
        tries = min(EVENINGS / max(often, 0.01), 1000)
        return f"about 1 evening in {whole_tries(tries)}{more}"

    @property
    def most_likely(self) -> str:
        """Give the evenings where hardly any is expected: `none of the next 10 evenings, 4 at
        most`."""
        one = self.evenings_with_one_per_10
        often, high = round(one.value or 0.0), min(max(round(one.high or 0.0), 1), EVENINGS)
        return f"{often or 'none'} of the next {EVENINGS} evenings, {max(high, often)} at most"


@dataclass(frozen=True, slots=True)
class Compare(Answer):
    """One row an area, best first; `watch` by the area's name. `ageless`: bucks seen at any that
    count for nothing, since nobody gave their age."""

    ROW: ClassVar[type] = Compared

    rows: tuple[Compared, ...]
    watch: dict[str, Watch]
    method: str
    why: tuple[str, ...]
    who: str = "bucks"
    ageless: tuple[str, ...] | None = field(default=None, metadata=SPARE)

    @property
    def said(self) -> str:
        """Say in a sentence which area is best, or that nobody can tell."""
        return f"{'Does and fawns: ' if self.who == 'does' else ''}{self._said()}"

    @property
    def firsts(self) -> tuple[str, ...]:
        """The best area and those too close to call with it."""
        return (self.rows[0].area, *self.rows[0].tied_with) if self.rows else ()

    @property
    def headline(self) -> str:
        """Name the best without its numbers, where areas are ranked: the list has those."""
        return f"{self._first(self.rows[0], self.firsts)}.{sort_first(self.watch)}"

    @property
    def covered_to(self) -> date | None:
        """The last night covered at any of the areas: the evenings told of come next."""
        return max((one.last for one in self.watch.values() if one.last), default=None)

    @property
    def ranked(self) -> bool:
        """Whether it ranks areas at all: where nobody can tell, no rank is shown."""
        return not self._said().startswith("Can't")

    def _said(self) -> str:
        best = self.rows[0] if self.rows else None
        if not any(one.nights_watched for one in self.watch.values()):
            return f"Can't tell yet: {too_little(self.watch.values())}"
        if waits := self._all_wait():
            return waits
        if best is None or not any(row.visits for row in self.rows):
            whose = WHOSE[self.who]
            came = f". {ageless_came(self.ageless)}" if self.ageless else ""
            none = f"no picture of {whose} in shooting light on those days"
            return f"Can't tell yet: {none}{but_unsorted_at(self.watch)}{came}."
        rate = best.shooting_light_visits_per_10_days.value
        if rate is None:
            return f"Can't tell yet: no day at {best.area} is known to have been watched."
        names = self.firsts
        tied, alone = len(names) > 1, len(self.rows) == 1
        first = self._first(best, names)
        if best.evening_walks_per_10_days.value is None:
            seen = f"{best.visits} seen: {best.day} by day, {best.gray} in gray light"
            much = f"about {rate:.1f} visits in shooting light in 10 days"
            at = f". At {best.area}, " if tied or alone else ", "
            return f"{first}{at}{much} ({seen}).{sort_first(self.watch)}"
        alike = tied and len({(r.evenings, r.spread) for r in self.rows if r.area in names}) == 1
        every = "either" if len(names) == 2 else "each"
        at = every if alike else best.area
        out = f"a mature buck out in shooting light at {at} on {best.evenings} ({best.spread})"
        return (
            f"{first}. After {self.covered_to}, the last night covered, expect {out}, by any "
            f"trail, pictured or not. {FEWER}{sort_first(self.watch)}"
        )

    def _all_wait(self) -> str | None:
        """Say that nothing can be told where at every area covered too much waits to be sorted."""
        covered = [one for one in self.watch.values() if one.nights_watched]
        if not all(one.waiting for one in covered):
            return None
        what = "compare" if len(self.rows) > 1 else "tell"
        return f"Can't {what} yet: {waiting_at(self.watch)}."

    def _first(self, best: Compared, names: Sequence[str]) -> str:
        if len(names) > 1:
            return f"{', '.join(names[:-1])} or {names[-1]}: too close to call"
        others = [r for r in self.rows[1:] if r.nights_watched and r.counts]
        if len(self.rows) > 1 and not others:
            waits = any(self.watch[r.area].nights_unsorted for r in self.rows[1:])
            what = f"only at {best.area} are enough pictures sorted" if waits else ""
            return f"Can't compare yet: {what or f'cameras covered {best.area} alone'}"
        return f"{best.area} first" if len(self.rows) > 1 else "Only one area to compare"
