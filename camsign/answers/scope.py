"""What a question is about: which bucks, which areas, which days, how far and how long.

Every answer takes a `Scope`. `scope_of` makes one from a person's words.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, Literal

from camsign.errors import UsageError
from camsign.logbook import naming
from camsign.logbook.moments import latest_season, season_of
from camsign.logbook.named import known_bucks
from camsign.sign.windows import on_day
from camsign.units import format_length, parse_day

if TYPE_CHECKING:
    from camsign.logbook.session import Session
    from camsign.logbook.settings import Settings
    from camsign.logbook.values import Days

Who = Literal["bucks", "does"]
EARLIEST, LATEST = date(1900, 1, 1), date(2199, 12, 31)


@dataclass(frozen=True, slots=True)
class Scope:
    """The bounds of a question.

    `buck_ids`, `area_ids`: permanent ids, None for all. `first`, `last`: local days, both within.
    Detections count by their local day, nights watched by the day on whose noon they begin.
    `season`: the hunting year if the days are one, else None. `reach_m` [m], `gap_s` [s],
    `mature_age` [years]. `who`: bucks, or does and fawns. `phase`: the phase of the season that the
    days are, if they were asked for so.
    """

    buck_ids: tuple[str, ...] | None
    area_ids: tuple[str, ...] | None
    first: date
    last: date
    season: int | None
    reach_m: float
    gap_s: float
    mature_age: float
    who: Who = "bucks"
    phase: str | None = None

    def sql(self) -> dict[str, Any]:
        """Give the parameters of the answers' SQL files."""
        return {
            "bucks": list(self.buck_ids) if self.buck_ids is not None else None,
            "areas": list(self.area_ids) if self.area_ids is not None else None,
            "first": self.first,
            "last": self.last,
            "reach": self.reach_m,
        }

    def in_words(self) -> str:
        """Say which days are meant."""
        if self.phase is not None:
            return f"{self.phase} ({self.first} to {self.last})"
        if self.season is not None:
            return f"season {self.season} ({self.first} to {self.last})"
        if self.first == EARLIEST:
            return "all" if self.last == LATEST else f"up to {self.last}"
        return f"from {self.first} on" if self.last == LATEST else f"{self.first} to {self.last}"

    def asked(self) -> str:
        """Say it as a line of its own: `season: 2025 (2025-07-01 to 2026-06-30)`, `days: all`."""
        words = self.in_words()
        told = words.removeprefix("season ")
        return f"days: {words}" if told == words else f"season: {told}"


def scope_of(
    session: Session,
    bucks: Sequence[str] | None = None,
    areas: Sequence[str] | None = None,
    season: int | None = None,
    first: date | None = None,
    last: date | None = None,
    reach_m: float | None = None,
    gap_s: float | None = None,
    mature_age: float | None = None,
    phase: str | None = None,
    days_back: int | None = None,
    who: Who = "bucks",
) -> Scope:
    """Give the scope of a question from a person's words.

    Args:
        bucks: names or ids (old names and ids too), None for all.
        areas: names or ids, None for all.
        season: a hunting year by the year in which it starts.
        first: the first local day; not together with `season`.
        last: the last local day; not together with `season`.
        reach_m: cameras and sign this close to an area's edge count for it [m].
        gap_s: detections farther apart than this are two visits [s].
        mature_age: from which age a buck is mature [years].
        phase: a phase of the season by its name in logbook.toml; not together with days.
        days_back: that many days, up to `last` or today, whichever is given; not with `first`.
        who: bucks, or does and fawns.

    Without season and days it is the latest season with detections; what else is None comes from
    the logbook's settings.

    Raises:
        UsageError: an unknown name; days that run backwards; a reach beyond the kept distances.
    """
    s = session.settings
    reach = s.reach_m if reach_m is None else reach_m
    check_kept(s, "reach", reach)
    if days_back is not None:
        first, last = _back(days_back, season, phase, first, last)
    elif phase is not None:
        year = season if season is not None else latest_season(session)
        phase, first, last = _phase_days(s, phase, year, first or last)
        season = None
    elif season is None and first is None and last is None:
        season = latest_season(session)
    days = _days(season, first, last, s.season_start)
    by_word = {naming.key(x): k for k, name in DOES.items() for x in (k, name)}
    meant = [by_word.get(naming.key(word)) for word in bucks or ()]
    company = tuple(x for x in meant if x) if meant and all(meant) else None
    if company or who == "does":
        if bucks is not None and not company:
            raise UsageError("does have no names", f"say one of {', '.join(DOES.values())}")
        ids, who = company, "does"
    else:
        ids = None
        if bucks is not None:
            ids = tuple(dict.fromkeys(map(known_bucks(session).find, bucks)))
    return Scope(
        ids,
        None if areas is None else tuple(dict.fromkeys(area_id_of(session, a) for a in areas)),
        *days,
        season,
        reach,
        s.visit_gap_s if gap_s is None else gap_s,
        s.mature_age if mature_age is None else mature_age,
        who,
        phase,
    )


def check_kept(settings: Settings, what: str, meters: float) -> None:
    """Raise UsageError for a distance [m] beyond those that are kept."""
    if not 0 <= meters <= settings.pair_limit_m:
        far, most = (format_length(m, settings.units) for m in (meters, settings.pair_limit_m))
        raise UsageError(
            f"a {what} of {far} is not between 0 and {most}",
            "distances are kept up to pair_limit_m in logbook.toml: set it higher for more",
        )


def _back(
    days: int, season: int | None, phase: str | None, first: date | None, last: date | None
) -> tuple[date, date]:
    """Give the last days up to a day, by default today's."""
    if days < 1:
        raise UsageError(f"the last {days} days are no days", "give 1 or more")
    if season is not None or phase is not None or first is not None:
        raise UsageError(
            "--last counts back from a day: it takes no season, phase or first day",
            "leave out --last, or the others",
        )
    end = last or date.today()  # noqa: DTZ011 - the user's own day is meant
    return end - timedelta(days=days - 1), end


def _phase_days(
    settings: Settings, phase: str, season: int | None, other: date | None
) -> tuple[str, date, date]:
    """Give the name and days of a phase in a season, the current one where nothing was seen."""
    if other is not None:
        raise UsageError("a phase doesn't go with a first or last day", "give one of them")
    if not settings.phases:
        raise UsageError(
            "logbook.toml names no phases",
            'add [phases] with lines such as "rut" = ["11-05", "11-24"]',
        )
    name = naming.find({n: n for n in settings.phases}, phase, "phase")
    if season is None:
        season = season_of(date.today(), settings.season_start)  # noqa: DTZ011
    days = settings.phases[name]
    return name, *days_of(days, season + (days[0] < settings.season_start))


def days_of(phase: Days, year: int) -> tuple[date, date]:
    """Give the first and last local day of a phase that begins in a calendar year."""
    begin, end = phase
    first = on_day(year, begin)
    return first, on_day(first.year + (end < begin), end)


def against(session: Session, scope: Scope, word: str) -> Scope:
    """Give the other question of a comparison, else the same as `scope`.

    Args:
        scope: the question.
        word: a hunting year ("2024"), "earlier" (all days before those asked about), days
            ("2025-10-15..2025-11-04", either may be left out), or another area's name or id.

    Raises:
        UsageError: none of these.
    """
    word = word.strip()
    start = session.settings.season_start
    if re.fullmatch(r"\d{4}", word):
        first, last = _days(int(word), None, None, start)
        return replace(scope, season=int(word), first=first, last=last, phase=None)
    if word == "earlier":
        return replace(
            scope, season=None, first=EARLIEST, last=scope.first - timedelta(days=1), phase=None
        )
    if ".." in word:
        ends = [parse_day(day) if day.strip() else None for day in word.split("..", 1)]
        first, last = _days(None, ends[0], ends[1], start)
        return replace(scope, season=None, first=first, last=last, phase=None)
    return replace(scope, area_ids=(area_id_of(session, word),))


def season_days(season: int, start: tuple[int, int]) -> tuple[date, date]:
    """Give the first and last local day of a season."""
    return on_day(season, start), on_day(season + 1, start) - timedelta(days=1)


DOES = {
    "doe": "a doe alone",
    "does": "does together",
    "doe-fawn": "a doe with fawns",
    "fawn": "fawns alone",
}
"""Does and fawns have no names: company tells them apart. The order is detections_does.sql's."""


def area_id_of(session: Session, word: str) -> str:
    """Give the permanent id of the area that a name or id means.

    Raises:
        UsageError: there is none; the name that comes nearest is given.
    """
    rows = session.con.execute("SELECT area_id, name FROM areas_now").fetchall()
    return naming.find(dict(rows), word, "area")


def _days(
    season: int | None, first: date | None, last: date | None, start: tuple[int, int]
) -> tuple[date, date]:
    if season is not None:
        if first or last:
            raise UsageError("a season doesn't go with a first or last day", "give one of them")
        if not 1900 < season < 2199:
            raise UsageError(f"season {season} is no year", "write it like 2025")
        return season_days(season, start)
    begin, end = first or EARLIEST, last or LATEST
    if begin > end:
        raise UsageError(f"the days run backwards, from {begin} to {end}", "swap them")
    return begin, end
