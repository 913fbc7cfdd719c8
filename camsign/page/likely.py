"""Which bucks are most likely in a strip, for the digits: where and when each was seen, and your
last tags.

For each camera where a buck was seen, the sighting nearest in time counts exp(-days/6) *
exp(-distance/520 m), and the best of them is his weight. 520 m is the radius of a circle of 86 ha,
the core area of grown bucks in South Texas; 6 days is about how long collared bucks took to come
back to a bedding area (Southeast Deer Study Group 2024, second-hand). The weights only order names
on keys: they are no estimate and are shown as none. Your last tags add 0.5, 0.25, 0.12, ...

A hand learns digits. So a buck keeps his as long as he is among the likely ones, on every camera;
it is a habit of this machine and lies in its cache.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from math import exp
from pathlib import Path

from camsign.geo import distance_bearing
from camsign.logbook.named import known_bucks
from camsign.logbook.session import Session
from camsign.page.rows import rows
from camsign.units import counted, format_length

DAYS = 6.0
CORE_M = 520.0
ELSEWHERE = 0.1
"""What a sighting counts whose distance is not known, of another camera."""
_DAY_S = 86400.0
_ANY_TIME = datetime.fromisoformat("2000-01-01")
_FILE = "digits.json"
COUNT = 9


@dataclass(frozen=True, slots=True)
class Likely:
    """A buck and why he stands where he stands; `weight` only orders."""

    buck_id: str
    buck: str
    weight: float
    why: str


@dataclass(frozen=True, slots=True)
class _Where:
    """A strip's camera, place [deg] and middle (UTC), as far as known."""

    camera: str
    lat: float | None
    lon: float | None
    utc: datetime | None


@dataclass(frozen=True, slots=True)
class _Seen:
    """A row of likely.sql."""

    buck_id: str
    buck: str
    camera: str
    deployment: str | None
    lat: float | None
    lon: float | None
    before: datetime | None
    after: datetime | None


@dataclass(frozen=True, slots=True)
class _Best:
    """The sighting of a buck that counts most."""

    seen: _Seen
    weight: float
    gap_s: float
    distance_m: float | None


def likely_bucks(
    session: Session, strip: str, last: Sequence[str] = (), most: int = 9
) -> list[Likely]:
    """Give the bucks most likely in a strip, the likeliest first; those never seen come last.

    Args:
        session: a session over the copy, with its strips.
        strip: the strip's id; an unknown one ranks by your last tags alone.
        last: ids of the bucks you tagged last, the latest first.
        most: how many at most.
    """
    here = _where(session, strip)
    best = _best(session, here, strip)
    weights = {buck_id: one.weight for buck_id, one in best.items()}
    for nth, buck_id in enumerate(dict.fromkeys(last)):
        weights[buck_id] = weights.get(buck_id, 0.0) + 0.5 ** (nth + 1)
    ranked = sorted(
        known_bucks(session).names.items(),
        key=lambda item: (-weights.get(item[0], 0.0), item[1].casefold()),
    )
    return [
        Likely(
            buck_id,
            name,
            weights.get(buck_id, 0.0),
            _why(session, best.get(buck_id), buck_id in last, bool(here.utc)),
        )
        for buck_id, name in ranked[:most]
    ]


def _where(session: Session, strip: str) -> _Where:
    row = session.con.execute(
        "SELECT min(s.camera), min(d.lat), min(d.lon), min(s.utc) FROM page.strips s"
        " LEFT JOIN deployments d ON d.deployment = s.deployment WHERE s.strip = ?",
        [strip],
    ).fetchone()
    return _Where(*(row or ("", None, None, None)))


def _best(session: Session, here: _Where, strip: str) -> dict[str, _Best]:
    """Give each buck's best sighting. Without a time of the strip, all times count alike."""
    at = here.utc or _ANY_TIME
    seen = rows(session.con, "likely", _Seen, at=at, strip=strip)
    best: dict[str, _Best] = {}
    for one, distance in zip(seen, _distances(seen, here), strict=True):
        weighed = _weighed(one, distance, at, bool(here.utc))
        if one.buck_id not in best or weighed.weight > best[one.buck_id].weight:
            best[one.buck_id] = weighed
    return best


def _weighed(seen: _Seen, distance_m: float | None, at: datetime, timed: bool) -> _Best:
    gap = min(((t - at).total_seconds() for t in (seen.before, seen.after) if t), key=abs)
    near = ELSEWHERE if distance_m is None else exp(-distance_m / CORE_M)
    return _Best(seen, near * (exp(-abs(gap) / _DAY_S / DAYS) if timed else 1.0), gap, distance_m)


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


def _why(session: Session, best: _Best | None, lately: bool, timed: bool) -> str:
    if best is None:
        return "you tagged him just now" if lately else "not seen yet"
    where = "seen here"
    if best.distance_m is None:
        where = f"seen at {best.seen.camera}"
    elif best.distance_m >= 1:
        where = f"seen {format_length(best.distance_m, session.settings.units)} off"
    return f"{where} {_gap(best.gap_s)}" if timed else where


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
