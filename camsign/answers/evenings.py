"""What evenings at an area are worth: mature bucks that leave it, or walk through, in light.

Cameras picture a part of those who bed there, and nearly all who walk through: ranked by pictures,
a trail outranks the bed it leads by. So both are counted apart. From bed: the odds that each buck
beds there in the days behind the last one asked for, by the model of where each beds, times his
share of evenings in shooting light. Through: evening pictures in shooting light of the days on
which he bedded elsewhere. How much a bed is used is weighed by its rubs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from camsign.answers.beds_input import BedsInput
from camsign.answers.beds_known import Known, area_at, buck_at, mask_of
from camsign.arrays import Bools, Floats, Ints, Times
from camsign.stats.beds import Beds
from camsign.stats.beds_evidence import EVENING, LIT
from camsign.stats.estimate import Estimate, spread_of
from camsign.stats.leaning import weights

EVENINGS = 10
# How often a buck's evening pictures are in shooting light before any of his own, as a Beta law
# (common practice, no source).
LIGHT_PRIOR = (3.0, 1.0)
# Of those that walk through in light, how many are pictured (common practice, no source).
PICTURED = 0.9
SEED = 7


@dataclass(frozen=True, slots=True, eq=False)
class Evenings:
    """Ten evenings in equally likely courses of the days ahead: leaving the bed, walking through.

    `bed`, `through`: how often, on average over the beds and hours they may choose; `any_one`: on
    how many evenings at least one does either; `came`, `came_any`: all of them, and evenings with
    any, as it may turn out. `use`: days in bed of the season in the same draws; `rubs`: of the days
    asked for; `told`: what leaves the bed before its sign was asked.
    """

    bed: Floats
    through: Floats
    any_one: Floats
    came: Ints
    came_any: Ints
    use: Floats
    rubs: int
    told: float

    @property
    def draws(self) -> Floats:
        """Both together."""
        return self.bed + self.through

    def estimate(self) -> Estimate:
        """The mean, and what holds how it turns out with 95%."""
        return spread_of(self.came, value=float(self.draws.mean()))

    def with_any(self) -> Estimate:
        """Evenings of ten with at least one: the mean, and what holds how it turns out with 95%."""
        return spread_of(self.came_any, most=EVENINGS, value=float(self.any_one.mean()))


@dataclass(frozen=True, eq=False)
class Season:
    """A season of the model and the bucks that count; what all areas share is drawn once."""

    read: BedsInput
    beds: Beds
    bucks: list[int]

    @cached_property
    def courses(self) -> npt.NDArray[np.uint8]:
        """Where each beds on the days ahead: (draws, bucks, days)."""
        return self.beds.courses_ahead(EVENINGS, SEED)[:, self.bucks]

    @cached_property
    def in_light(self) -> Floats:
        """Each one's share of evenings in shooting light: (draws, bucks)."""
        looks = self.read.evidence.looks
        evening = looks.end == EVENING
        lit, dark = (
            np.bincount(looks.buck[evening & which], minlength=self.read.evidence.bucks)[self.bucks]
            for which in (looks.half == LIT, looks.half != LIT)
        )
        a, b = LIGHT_PRIOR
        rng = np.random.default_rng([SEED, 0])
        return rng.beta(a + lit, b + dark, (len(self.beds.draws), len(self.bucks)))


def seasons_of(known: Known, buck_ids: Sequence[str]) -> list[Season]:
    """Give the seasons that the model knows, the last first, for the bucks that count."""
    return [
        Season(read, beds, sorted(b for id_ in buck_ids if (b := buck_at(read, id_)) is not None))
        for read, beds in reversed(known.seasons)
    ]


def evenings_of(
    seasons: Sequence[Season], area_id: str, wanted: Times, rubs: int, unnamed: float
) -> Evenings | None:
    """Say what ten evenings behind the last day asked for hold; None where nobody watched.

    Args:
        seasons: what the model knows of the days asked for, the last first.
        area_id: the area.
        wanted: the days watched; the last season with any of them counts.
        rubs: made there in the days asked for.
        unnamed: how many visits there are to one with a name.
    """
    for one in seasons:
        area, days = area_at(one.read, area_id), mask_of(one.read, wanted)
        if area is None or not days.any():
            continue
        rng = np.random.default_rng([SEED, 1, area])
        beds_there = [one.beds.ahead_at(day + 1, area)[:, one.bucks] for day in range(EVENINGS)]
        leaves = np.stack(beds_there, axis=2) * one.in_light[..., None]
        bed = leaves.sum(axis=(1, 2))
        use = (one.beds.draws[:, one.bucks] == area).sum(axis=(1, 2)).astype(float)
        seen = unnamed * _through(one, area, days) / PICTURED
        through = EVENINGS * rng.gamma(seen + 0.5, 1 / days.sum())
        a_day = through[:, None] / EVENINGS
        none = (1 - leaves).prod(axis=1) * np.exp(-a_day)
        left = (one.courses == area) & (rng.random(leaves.shape) < one.in_light[..., None])
        out = left.sum(axis=1) + rng.poisson(np.broadcast_to(a_day, none.shape))
        came, came_any = out.sum(axis=1), (out > 0).sum(axis=1)
        any_one = (1 - none).sum(axis=1)
        return Evenings(bed, through, any_one, came, came_any, use, rubs, float(bed.mean()))
    return None


def by_sign(found: Sequence[Evenings]) -> list[Evenings]:
    """Weigh the draws of each area by its rubs; all areas together tell how much these say.

    Draws are taken by their weight, each so many times as it falls to, and keep their order: those
    of one season still go together from area to area where rubs change little.
    """
    if len(found) < 2:
        return list(found)
    few = min(len(one.use) for one in found)
    use, rubs = [one.use[:few] for one in found], [one.rubs for one in found]
    weighed = weights(np.stack(use), np.array(rubs))
    return [_taken(one, part) for one, part in zip(found, weighed, strict=True)]


def _taken(one: Evenings, part: Floats) -> Evenings:
    n = len(part)
    at = np.minimum(np.searchsorted(np.cumsum(part), (np.arange(n) + 0.5) / n), n - 1)
    drawn = ("bed", "through", "any_one", "came", "came_any", "use")
    return replace(one, **{name: getattr(one, name)[at] for name in drawn})


def more_often(one: Evenings, other: Evenings) -> float:
    """The probability that ten evenings hold more at the one; draws of one season go together."""
    few = min(len(one.bed), len(other.bed))
    return float(np.mean(one.draws[:few] > other.draws[:few]))


def _through(one: Season, area: int, days: Bools) -> Floats:
    """Count the evening pictures in light on days on which he beds elsewhere, in each course."""
    looks = one.read.evidence.looks
    mine = (looks.area == area) & (looks.end == EVENING) & (looks.half == LIT)
    mine &= days[looks.day] & np.isin(looks.buck, one.bucks)
    beds = one.beds.draws[:, looks.buck[mine], looks.day[mine]]
    found: Floats = (beds != area).sum(axis=1) * 1.0
    return found
