"""Where each buck bedded, as the model knows it: computed once, kept by what it rests on.

A season is read up to the last day asked for, so that a question about a past evening is answered
with what was known then.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator
from contextlib import suppress
from dataclasses import dataclass, fields
from datetime import date, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from camsign import systems
from camsign.answers.beds_input import APART_M, BedsInput, read_season
from camsign.answers.reach import Watching
from camsign.answers.scope import EARLIEST, LATEST, Scope, season_days
from camsign.arrays import Bools, Ints, Times
from camsign.logbook.moments import season_of
from camsign.logbook.session import Session
from camsign.logbook.versions import version_of
from camsign.stats.beds import Beds, beds
from camsign.stats.beds_learned import pools
from camsign.stats.estimate import Estimate, central

_IN_MEMORY: dict[str, Beds] = {}
_MOST_IN_MEMORY, _MOST_KEPT = 8, 24


@dataclass(frozen=True)
class Known:
    """What is known of a scope's days: a season each, its evidence and what it says."""

    seasons: tuple[tuple[BedsInput, Beds], ...]

    @cached_property
    def buck_ids(self) -> tuple[str, ...]:
        """Those seen anywhere in these seasons."""
        return tuple(dict.fromkeys(b for read, _ in self.seasons for b in read.bucks.ids))

    def days(self, buck_id: str, area_id: str, wanted: Times) -> Ints:
        """Count the days he bedded in the area among the wanted ones, in equally likely draws."""
        total = np.zeros(max((len(found.draws) for _, found in self.seasons), default=1), dtype=int)
        for read, found, buck, area in self.of(buck_id, area_id):
            days = found.days(buck, area, mask_of(read, wanted))
            # Seasons differ in how many draws they needed; each is spread over all.
            total += days[np.arange(len(total)) * len(days) // len(total)]
        return total

    def of(self, buck_id: str, area_id: str) -> Iterator[tuple[BedsInput, Beds, int, int]]:
        """Give the seasons that know a buck and an area, with the numbers of both."""
        for read, found in self.seasons:
            buck, area = buck_at(read, buck_id), area_at(read, area_id)
            if buck is not None and area is not None:
                yield read, found, buck, area

    def habits(self, buck_id: str, area_id: str) -> tuple[float, float]:
        """Give how often he keeps his bed for another day, and slips by there, by the last season
        that knows both; else those of all bucks there; else what is held before any picture."""
        for _, found, buck, area in reversed(list(self.of(buck_id, area_id))):
            return float(found.keeps[:, buck].mean()), float(found.hidden[buck, area])
        for read, found in reversed(self.seasons):
            if (at := area_at(read, area_id)) is not None:
                return float(found.keeps.mean()), float(found.hidden[:, at].mean())
        return pools()["keeps"].expected, pools()["hidden"].expected

    def on(self, buck_id: str, area_id: str, day: date) -> Estimate:
        """Give the chance that he beds in an area on a local day, by the last season known: of a
        day behind the last one covered by all courses, with their 95% interval."""
        read, found, buck, area = list(self.of(buck_id, area_id))[-1]
        ahead = (day - read.first).days - (read.evidence.days - 1)
        if ahead <= 0:
            chance = float(found.chance[buck, read.evidence.days - 1 + ahead, area])
            return Estimate(chance, chance, chance)
        value, low, high = central(found.ahead_at(ahead, area)[:, buck])
        return Estimate(float(value), float(low), float(high))

    def wanted(self, watching: Watching, scope: Scope, ended: date | None = None) -> Times:
        """Give the days of a watch within a scope, up to the day before a buck ended."""
        last = scope.last if ended is None else min(scope.last, ended - timedelta(days=1))
        return watching.within(scope.first, last).days


def known_of(
    session: Session, scope: Scope, apart_m: float = APART_M, about: Collection[str] | None = None
) -> Known:
    """Give what is known of a scope's seasons, all bucks and areas together.

    `apart_m`: a buck seen in full daylight farther from an area than this hardly bedded there [m].
    `about`: areas by id; those beyond a buck's range of them (`beds_ground.RANGE_M`) are elsewhere.
    """
    found = []
    for first, last in _spans(session, scope):
        read = read_season(session, scope, first, last, apart_m, about)
        if read is not None and read.evidence.bucks:
            found.append((read, _kept(session, read)))
    return Known(tuple(found))


def buck_at(read: BedsInput, buck_id: str) -> int | None:
    """Give a buck's number in a season, None if he was not seen in it."""
    return read.bucks.ids.index(buck_id) if buck_id in read.bucks.ids else None


def area_at(read: BedsInput, area_id: str) -> int | None:
    """Give an area's number in a season."""
    return next((i for i, spot in enumerate(read.areas) if spot.id == area_id), None)


def mask_of(read: BedsInput, wanted: Times) -> Bools:
    """Give the days of a season that are wanted."""
    found = np.zeros(read.evidence.days, dtype=bool)
    at = (wanted - np.datetime64(read.first)).astype(int)
    found[at[(at >= 0) & (at < len(found))]] = True
    return found


def _spans(session: Session, scope: Scope) -> list[tuple[date, date]]:
    """Cut the scope's days into hunting years, each from its beginning."""
    row = session.con.execute("SELECT min(night), max(night) FROM watch WHERE day_watched")
    low, high = row.fetchone() or (None, None)
    if low is None:
        return []
    start = session.settings.season_start
    first = low if scope.first == EARLIEST else max(low, scope.first)
    last = high if scope.last == LATEST else min(high, scope.last)
    found = []
    for year in range(season_of(first, start), season_of(last, start) + 1):
        begin, end = season_days(year, start)
        found.append((begin, min(end, last)))
    return found


def _kept(session: Session, read: BedsInput) -> Beds:
    """Give what a season says: from memory, from the cache folder, or computed."""
    key = _digest(read)
    if key not in _IN_MEMORY:
        path = session.folder.cache / "beds" / f"{key}.npz"
        if (found := _load(path)) is None:
            found = beds(read.evidence)
            _save(path, found)
        while len(_IN_MEMORY) >= _MOST_IN_MEMORY:
            _IN_MEMORY.pop(next(iter(_IN_MEMORY)))
        _IN_MEMORY[key] = found
    return _IN_MEMORY[key]


def _digest(read: BedsInput) -> str:
    sums = hashlib.sha256(version_of("camsign.stats.beds").encode())

    def add(value: Any) -> None:
        if hasattr(value, "__dataclass_fields__"):
            for f in fields(value):
                add(getattr(value, f.name))
        elif isinstance(value, np.ndarray):
            sums.update(f"{value.shape}{value.dtype}".encode() + np.ascontiguousarray(value).data)
        else:
            sums.update(f"{value};".encode())

    add(read.evidence)
    return sums.hexdigest()[:32]


def _load(path: Path) -> Beds | None:
    try:
        with np.load(path) as given:
            return Beds(*(given[f.name] for f in fields(Beds)))
    except (OSError, ValueError, KeyError, EOFError):
        return None


def _save(path: Path, found: Beds) -> None:
    """Keep it if the cache takes it; without, it is computed again."""
    part = path.with_suffix(".part.npz")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        np.savez_compressed(part, **{f.name: getattr(found, f.name) for f in fields(Beds)})
        systems.replace(part, path)
        for old in sorted(path.parent.glob("*.npz"), key=lambda p: p.stat().st_mtime)[:-_MOST_KEPT]:
            old.unlink(missing_ok=True)
    except OSError:
        with suppress(OSError):
            part.unlink(missing_ok=True)
