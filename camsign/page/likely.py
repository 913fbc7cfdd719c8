"""Who could this be: each named buck's odds in a strip, for the digits.

A visit of his speaks for him by (exp(-days / 1) + 0.05) * exp(-distance / 250 m): he comes back on
the next days, and keeps to his places all season. Where both its way and the strip's are known, it
counts by how alike they are, down to 0.6 of it. All his visits add up; 0.6 is shared out among all
who have a name, so that nobody is ruled out, and your last tags add 0.1, 0.05, ... The odds are
shares of the sum: of the bucks that have a name, if it is one of them. The numbers were fitted to
eight simulated seasons; docs/accuracy.md shows how often such odds come true in others.

A hand learns digits. So a buck keeps his as long as he is among the likely ones, on every camera;
it is a habit of this machine and lies in its cache.
"""

from __future__ import annotations

import json
import threading
from collections import defaultdict
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from math import exp, inf
from pathlib import Path
from types import MappingProxyType

from camsign.answers.odds import one_in
from camsign.geo import distance_bearing
from camsign.logbook.named import known_bucks
from camsign.logbook.session import Session
from camsign.page.rows import rows
from camsign.units import counted, format_length

MODEL: Mapping[str, float] = MappingProxyType(
    {"days": 1.0, "always": 0.05, "ways": 0.4, "any_way": 0.31}
)
"""How visits count, as `queries/likely.sql` uses it. any_way: where a way is not known, as much as
one counts on average over all ways."""
NEAR_M = 250.0
ANYBODY = 0.6
"""Shared out among all who have a name."""
LAST = 0.1
"""For the buck tagged last; half as much for the one before him."""
ELSEWHERE = 0.1
"""What a visit counts whose distance is not known, of another camera."""
_DAY_S = 86400.0
_ANY_TIME = datetime.fromisoformat("2000-01-01")
_FILE = "digits.json"
COUNT = 9


@dataclass(frozen=True, slots=True)
class Likely:
    """A buck, his odds [0..1] among all who have a name, and why. seen: he was, anywhere."""

    buck_id: str
    buck: str
    odds: float
    seen: bool
    why: str


@dataclass(frozen=True, slots=True)
class _Where:
    """A strip's camera, place [deg], middle (UTC) and the animal's way [deg], as far as known."""

    camera: str
    lat: float | None
    lon: float | None
    utc: datetime | None
    way: float | None


@dataclass(frozen=True, slots=True)
class _Seen:
    """A row of likely.sql."""

    buck_id: str
    camera: str
    deployment: str | None
    lat: float | None
    lon: float | None
    before: datetime | None
    after: datetime | None
    weight: float


@dataclass(slots=True)
class _Sum:
    """What all of a buck's visits come to, and where those were that count most."""

    weight: float = 0.0
    most: tuple[float, float] = (0.0, -inf)
    seen: _Seen | None = None
    distance_m: float | None = None

    def add(self, seen: _Seen, distance_m: float | None) -> None:
        weight = seen.weight * (ELSEWHERE if distance_m is None else exp(-distance_m / NEAR_M))
        self.weight += weight
        off = inf if distance_m is None else distance_m
        if self.seen is None or (weight, -off) > self.most:
            self.most, self.seen, self.distance_m = (weight, -off), seen, distance_m


def likely_bucks(
    session: Session, strip: str, last: Sequence[str] = (), most: int = 9
) -> list[Likely]:
    """Give the bucks most likely in a strip, the likeliest first.

    Args:
        session: a session over the copy, with its strips.
        strip: the strip's id; an unknown one ranks by your last tags alone.
        last: ids of the bucks you tagged last, the latest first.
        most: how many at most.
    """
    (here,) = rows(session.con, "strip_where", _Where, strip=strip)
    known = known_bucks(session)
    sums = _sums(session, here, strip, known.now)
    lately = {buck_id: LAST * 0.5**n for n, buck_id in enumerate(dict.fromkeys(last))}
    found = odds({b: sums[b].weight + lately.get(b, 0.0) for b in known.names})
    ranked = sorted(
        known.names.items(),
        key=lambda item: (-found[item[0]], sums[item[0]].seen is None, item[1].casefold()),
    )
    # Odds among one are 1, whatever stands there: the logbook has no other name yet.
    told = len(found) > 1 and any(his.seen is not None for his in sums.values())
    out = []
    for buck_id, name in ranked[:most]:
        his, share = sums[buck_id], found[buck_id]
        why = _why(session, his, buck_id in lately, here)
        why = f"{one_in(share)}: {why}" if told else why
        out.append(Likely(buck_id, name, share, his.seen is not None, why))
    return out


def odds(weights: Mapping[str, float]) -> dict[str, float]:
    """Give each buck's odds from what speaks for him; they sum to 1."""
    shared = ANYBODY / max(len(weights), 1)
    total = sum(weights.values()) + ANYBODY
    return {buck: (weight + shared) / total for buck, weight in weights.items()}


def _sums(session: Session, here: _Where, strip: str, now: Mapping[str, str]) -> dict[str, _Sum]:
    """Sum up each buck's visits. Without a time of the strip, all times count alike."""
    at = here.utc or _ANY_TIME
    seen = rows(
        session.con, "likely", _Seen, at=at, strip=strip, lat=here.lat, lon=here.lon,
        way=here.way, **MODEL,
    )  # fmt: skip
    found: dict[str, _Sum] = defaultdict(_Sum)
    for one, distance in zip(seen, _distances(seen, here), strict=True):
        found[now.get(one.buck_id, one.buck_id)].add(one, distance)
    return found


def _distances(seen: Sequence[_Seen], here: _Where) -> list[float | None]:
    """Give each sighting's distance [m]: 0 at the same camera if places are not known."""
    placed: dict[tuple[float | None, float | None], float]
    placed = {(s.lat, s.lon): 0.0 for s in seen if s.lat is not None and s.lon is not None}
    if here.lat is not None and here.lon is not None and placed:
        lats, lons = zip(*placed, strict=True)
        meters, _ = distance_bearing(here.lat, here.lon, lats, lons)
        placed = dict(zip(placed, (float(m) for m in meters), strict=True))
    else:
        placed = {}
    same = [0.0 if s.camera == here.camera else None for s in seen]
    return [placed.get((s.lat, s.lon), near) for s, near in zip(seen, same, strict=True)]


def _why(session: Session, his: _Sum, lately: bool, here: _Where) -> str:
    if his.seen is None:
        return "you tagged him just now" if lately else "not seen yet"
    where = "seen here"
    if his.distance_m is None:
        where = f"seen at {his.seen.camera}"
    elif his.distance_m >= 1:
        where = f"seen {format_length(his.distance_m, session.settings.units)} off"
    if here.utc is None:
        return where
    times = (time for time in (his.seen.before, his.seen.after) if time)
    return f"{where} {_gap(min(((t - here.utc).total_seconds() for t in times), key=abs))}"


def _gap(gap_s: float) -> str:
    days = abs(gap_s) / _DAY_S
    if days < 1:
        span = f"{abs(gap_s) / 3600:.0f} h" if abs(gap_s) >= 3600 else f"{abs(gap_s) / 60:.0f} min"
    else:
        span = counted(round(days), "day")
    return f"{span} {'later' if gap_s > 0 else 'earlier'}"


class Digits:
    """The bucks on digits 1 to 9, by id; None where no one is. Thread-safe."""

    def __init__(self, cache: Path) -> None:
        self._path = cache / _FILE
        self._lock = threading.Lock()
        self._slots = _read(self._path)

    def place(self, likely: Sequence[str]) -> list[str | None]:
        """Give the digits with these bucks (the likeliest first) on them.

        Who is new takes a free one; who is no longer likely gives his up.
        """
        with self._lock:
            slots = placed(self._slots, likely)
            if slots != self._slots:
                self._slots = slots
                with suppress(OSError):  # a cache: without it digits are placed anew next time
                    self._path.write_text(json.dumps(slots), encoding="utf-8")
            return slots


def placed(slots: Sequence[str | None], likely: Sequence[str]) -> list[str | None]:
    """Keep who is still likely where he is, and put the others on what is free, in their order."""
    wanted = list(dict.fromkeys(likely))[:COUNT]
    kept = [one if one in wanted else None for one in slots]
    free = (i for i, one in enumerate(kept) if one is None)
    for one, i in zip([b for b in wanted if b not in kept], free, strict=False):
        kept[i] = one
    return kept


def _read(path: Path) -> list[str | None]:
    with suppress(OSError, ValueError):
        found = json.loads(path.read_text(encoding="utf-8"))
        if isinstance(found, list) and len(found) == COUNT:
            names = [one if isinstance(one, str) else None for one in found]
            return [one if one not in names[:i] else None for i, one in enumerate(names)]
    return [None] * COUNT
