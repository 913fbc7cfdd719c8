"""Which wind does he bed on? His days in a bed against the winds of all days, by eighths."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from camsign.answers.beds_known import Known, known_of
from camsign.answers.beds_seen import marks_of
from camsign.answers.reach import reach_of, watching_of
from camsign.answers.result import Answer, Figure, Watch, figure, reasons
from camsign.answers.scope import Scope
from camsign.arrays import Bools, Ints, Times
from camsign.errors import UsageError
from camsign.logbook.session import Session
from camsign.sits.weather import kept_winds
from camsign.stats.estimate import Estimate
from camsign.stats.selection import selection_by_days
from camsign.units import compass_word
from camsign.zones import to_utc

if TYPE_CHECKING:
    from camsign.formats.wind import WindHour


SECTORS = 8
# The wind he lies down on: from an hour before to three hours after six in the morning; no source.
FROM_H, TO_H = 5, 9
# Below this the air has no direction [m/s].
CALM_MS = 0.5
FEWEST_BEDDED, FEWEST_DAYS = 12, 40
LUCK = 0.025
# How much a shown preference may move tonight's chance, at most.
MOST = 2.0
METHOD = (
    "days on which he was seen to bed there, out of the days covered whose morning wind is known, "
    "by eight sectors: share of bedded days over share of days (Manly and others 2002), exact "
    "limits that hold for all sectors at once (Bonferroni; Neu and others 1974). A preference is "
    "shown only if a sector's interval leaves out 1 and his days, shifted in a circle against the "
    "winds, differ as much in under 1 case in 40"
)
PREFERS, AVOIDS, NOTHING_SHOWN = "more", "less", "can't tell"


@dataclass(frozen=True, slots=True)
class WindSector:
    """One eighth of the winds: its middle [deg]; days of it and days he bedded on it; `ratio`: how
    many times as often as if the wind did not matter; `verdict`: more, less, can't tell.
    """

    sector: str
    from_deg: float
    days: int
    bedded: int
    ratio: Figure
    verdict: str


@dataclass(frozen=True, slots=True)
class WindBeds(Answer):
    """The sectors from north on; `shown`: whether a preference is shown; `luck`: how often chance
    alone differs as much.
    """

    TABLE: ClassVar[str] = "sectors"
    ROW: ClassVar[type] = WindSector

    said: str
    shown: bool
    luck: float | None
    sectors: tuple[WindSector, ...]
    watch: Watch
    method: str
    why: tuple[str, ...]


def wind_beds(session: Session, scope: Scope) -> WindBeds:
    """Say which wind one buck beds on in one area.

    Raises:
        UsageError: the scope names no area.
    """
    if scope.area_ids is None or len(scope.area_ids) != 1 or not scope.buck_ids:
        raise UsageError("this question is about one buck and one area", "name them")
    area_id, buck_id = scope.area_ids[0], scope.buck_ids[0]
    days = watching_of(session, scope, reach_of(session, scope))[0].days
    winds = morning_winds(session, scope.first, scope.last)
    found = compared(known_of(session, scope, about=[area_id]), buck_id, area_id, days, winds)
    rows = _rows(found)
    return WindBeds(
        _said(rows, found.shown), found.shown, found.luck, rows,
        Watch((), 0, len(days), scope.first, scope.last), METHOD,
        reasons(
            "no wind is kept for these days: camsign wind import" if not winds else None,
            f"needs {FEWEST_DAYS} days with wind on file, {FEWEST_BEDDED} of them bedded here; you "
            f"have {_have(found)}" if found.luck is None else None,
            "wind at the station is not wind in the woods",
        ),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Compared:
    """Days, bedded days and their ratio to chance by sector; `luck`: how often chance alone differs
    as much, None of too few days; `shown`: an interval leaves out 1, and it is hardly luck.
    """

    days: tuple[int, ...]
    bedded: tuple[int, ...]
    ratios: tuple[Estimate, ...]
    luck: float | None
    shown: bool


def morning_winds(session: Session, first: date, last: date) -> dict[date, int]:
    """The sector of each local day's morning wind; days of calm or without a wind are left out."""
    if not any((session.folder.root / "weather").glob("*.parquet")):
        return {}
    tz = session.settings.tz
    begin = to_utc(datetime.combine(first, time()), tz)
    hours = kept_winds(session.folder, begin, begin + timedelta(days=(last - first).days + 2))
    found = {}
    for n in range((last - first).days + 1):
        day = first + timedelta(days=n)
        span = [to_utc(datetime.combine(day, time(h)), tz) for h in (FROM_H, TO_H)]
        sector = sector_of([one for one in hours if span[0] <= one.utc <= span[1]])
        if sector is not None:
            found[day] = sector
    return found


def sector_of(hours: Sequence[WindHour]) -> int | None:
    """The sector of the mean wind of some hours; None for calm, variable, or none."""
    turns = [(np.radians(h.from_deg), h.speed_ms) for h in hours if h.from_deg is not None]
    if not turns:
        return None
    east = sum(v * np.sin(a) for a, v in turns) / len(hours)
    north = sum(v * np.cos(a) for a, v in turns) / len(hours)
    if np.hypot(east, north) < CALM_MS:
        return None
    return which(float(np.degrees(np.arctan2(east, north))))


def which(from_deg: float) -> int:
    """The number of the sector of a bearing [deg], 0 for north."""
    return round(from_deg % 360 / (360 / SECTORS)) % SECTORS


def compared(
    known: Known, buck_id: str, area_id: str, days: Times, winds: Mapping[date, int]
) -> Compared:
    """Compare the days a buck was seen to bed in an area with the winds of all days covered."""
    bedded: set[date] = set()
    for read, beds, buck, area in known.of(buck_id, area_id):
        mornings, evenings, _, _, _, inside, *_ = marks_of(read, buck, area)
        likely = beds.chance[buck, :, area] >= 0.5
        marked = np.flatnonzero((mornings | evenings | inside) & likely)
        bedded |= {read.first + timedelta(days=int(n)) for n in marked}
    covered = [d for d in days.astype("datetime64[D]").astype(object) if d in winds]
    kind = np.array([winds[d] for d in covered], dtype=np.int64)
    return by_sector(kind, np.array([d in bedded for d in covered], dtype=bool))


def by_sector(kind: Ints, used: Bools) -> Compared:
    """Compare days in order by the sector of their wind: those on which he bedded with all."""
    found = selection_by_days(used, kind, SECTORS)
    luck = found.luck if used.sum() >= FEWEST_BEDDED and len(kind) >= FEWEST_DAYS else None
    shown = luck is not None and luck < LUCK and any(map(_word, found.ratios))
    there, of_use = (np.bincount(some, minlength=SECTORS) for some in (kind, kind[used]))
    return Compared(tuple(there.tolist()), tuple(of_use.tolist()), found.ratios, luck, shown)


def _word(ratio: Estimate) -> str:
    if ratio.low is not None and ratio.low > 1:
        return PREFERS
    return AVOIDS if ratio.high is not None and ratio.high < 1 else ""


def factors_of(found: Compared) -> tuple[float, ...] | None:
    """How much each sector moves his chance to bed there; None where nothing is shown.

    Only sectors whose interval leaves out 1 move it, by their interval's nearer end: what is shown
    at the least.
    """
    if not found.shown:
        return None
    moved = []
    for one in found.ratios:
        word = _word(one)
        least = (one.low if word == PREFERS else one.high if word == AVOIDS else 1.0) or 1.0
        moved.append(float(np.clip(least, 1 / MOST, MOST)))
    return tuple(moved)


def _rows(found: Compared) -> tuple[WindSector, ...]:
    rows = []
    for n, ratio in enumerate(found.ratios):
        turn = n * 360 / SECTORS
        word = _word(ratio) if found.shown else ""
        rows.append(
            WindSector(
                compass_word(turn), turn, found.days[n], found.bedded[n], figure(ratio),
                word or NOTHING_SHOWN,
            )
        )  # fmt: skip
    return tuple(rows)


def _have(found: Compared) -> str:
    days = sum(found.days)
    return f"{days}, {sum(found.bedded) or 'none'} of them bedded" if days else "none"


def _said(rows: Sequence[WindSector], shown: bool) -> str:
    if not shown:
        return "Can't tell which wind he beds on here."
    more = [row.sector for row in rows if row.verdict == PREFERS]
    less = [row.sector for row in rows if row.verdict == AVOIDS]
    parts = [f"more often on a {' or '.join(more)} wind"] if more else []
    parts += [f"less often on a {' or '.join(less)} wind"] if less else []
    return f"He beds here {', '.join(parts)}."
