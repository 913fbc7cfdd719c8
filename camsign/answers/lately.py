"""What is hot: fresh sign, and mature bucks in shooting light, by area, newest first."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import ClassVar

import numpy as np

from camsign.answers.bucks import mature_of
from camsign.answers.detections import DAY, SURE, Asked, asked
from camsign.answers.result import (
    ABSENCE,
    SPARE,
    Answer,
    Watch,
    listed,
    reasons,
    too_little,
)
from camsign.answers.scope import EARLIEST, Scope
from camsign.answers.unsorted import sort_first, unsorted_at, waiting_at
from camsign.errors import UsageError
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.sign.fresh import new_looks
from camsign.units import counted

DAYS = 10
METHOD = (
    "counts within the last days: sign in reach that looked fresh and was made in them, bright "
    "rubs seen in them (made this season, but perhaps before), visits of mature bucks with a "
    "picture in shooting light; no estimate"
)


@dataclass(frozen=True, slots=True)
class LatelyRow:
    """One area with something new. `latest`: the day of the newest; `bucks`: seen in shooting
    light; `day` and `gray`: how many of the visits were by day, and in gray light only;
    `weak_times`: how many of them rest on times that are not the camera's own. `bright_sign`: signs
    that looked bright, made this season but perhaps before these days; `latest_sign`: the day of
    the newest.
    """

    area: str
    area_id: str
    latest: date
    fresh_sign: int
    visits: int
    day: int
    gray: int
    bucks: tuple[str, ...]
    latest_visit: datetime | None
    nights_watched: int
    weak_times: int
    bright_sign: int = 0
    latest_sign: date | None = None

    @property
    def in_words(self) -> str:
        """Say who came, last when, and what sign there is, from what day."""
        bucks = f"{listed(self.bucks)} in shooting light" if self.bucks else ""
        came = f"{bucks}, last on {self.latest_visit.date()}" if self.latest_visit else bucks
        sign = f"{self.sign}, newest {self.latest_sign}" if self.latest_sign else self.sign
        return "; ".join(filter(None, (came, sign)))

    @property
    def sign(self) -> str:
        """Say how much new sign there is."""
        fresh = f"{counted(self.fresh_sign, 'piece')} of fresh sign" if self.fresh_sign else ""
        bright = counted(self.bright_sign, "bright rub") if self.bright_sign else ""
        return " and ".join(filter(None, (fresh, bright)))


@dataclass(frozen=True, slots=True)
class Lately(Answer):
    """One row an area, newest first; `first`, `last`: the days looked at (local). `newest`: the day
    of the newest picture or sign in the days asked for; `pictured`: of the newest tagged picture.
    `elsewhere`: new signs of these days that are in reach of none of the areas.
    """

    ROW: ClassVar[type] = LatelyRow

    rows: tuple[LatelyRow, ...]
    first: date
    last: date
    watch: dict[str, Watch]
    method: str
    why: tuple[str, ...]
    newest: date | None = field(default=None, metadata=SPARE)
    pictured: date | None = field(default=None, metadata=SPARE)
    elsewhere: int = 0

    @property
    def said(self) -> str:
        """Say in a sentence what is hot, or that nothing is known to be."""
        if self.rows:
            return self._newest(self.rows[0])
        days = f"from {self.first} to {self.last}"
        if not any(one.nights_watched for one in self.watch.values()):
            last = f" Your newest tagged picture is from {self.pictured}." if self.pictured else ""
            no = too_little(self.watch.values())
            return f"Can't tell for {self.first} to {self.last}: {no}{last}{self._no_sign()}"
        if waits := waiting_at(self.watch):
            return f"Can't tell yet for {self.first} to {self.last}: {waits}.{self._no_sign()}"
        told = unsorted_at(self.watch)
        behind = f" ({told})" if told else ""
        sign = self._no_sign() if self.elsewhere else ""
        return f"Nothing hot {days}{behind}; {ABSENCE}.{self._blind()}{sign}"

    @property
    def untold(self) -> tuple[str, ...]:
        """Name the areas without a row that may only look quiet: no night was covered there, or too
        much is not sorted."""
        told = {row.area for row in self.rows}
        why = {
            spot: one.unsorted_in_words() or "no night covered"
            for spot, one in self.watch.items()
            if one.much_waits or not one.nights_watched
        }
        return tuple(f"{s}: can't tell, {words}" for s, words in why.items() if s not in told)

    def _blind(self) -> str:
        """Say of which areas nothing is known, since no night was covered there."""
        spots = [spot for spot, one in self.watch.items() if not one.nights_watched]
        if not spots:
            return ""
        named = listed([*spots[:3], f"{len(spots) - 3} more"] if len(spots) > 4 else spots)
        return f" Can't tell for {named}: no night covered there."

    def _newest(self, best: LatelyRow) -> str:
        """Name the area with the newest, what is not known of it, and where more bucks came."""
        told = f"Newest: {best.area}, {best.in_words}."
        told += "" if best.sign else self._no_sign()
        more = max(self.rows, key=lambda row: len(row.bucks))
        if not best.bucks:
            told += self._no_buck(best)
        if len(more.bucks) > len(best.bucks):
            told += f" {'More bucks' if best.bucks else 'Bucks'}: {more.area}, {more.in_words}."
        return told + sort_first(self.watch) if best.bucks else told

    def _no_buck(self, row: LatelyRow) -> str:
        """Say whether a mature buck came there at all where none is named."""
        watch = self.watch.get(row.area)
        if watch is None:
            return ""
        if not watch.nights_watched:
            return f" Bucks: can't tell, {too_little([watch])}"
        if watch.waiting:
            return f" Bucks: can't tell, {watch.waiting}."
        nights = counted(watch.nights_watched, "night")
        return f" No mature buck in shooting light in {nights} covered{watch.but_unsorted}."

    def _no_sign(self) -> str:
        """Say where there is no fresh sign, though there may be some elsewhere."""
        with_sign = next((row for row in self.rows if row.sign), None)
        if with_sign:
            return f" No fresh sign logged there; {with_sign.area} has {with_sign.sign}."
        if self.elsewhere:
            return f" No fresh sign there; {counted(self.elsewhere, 'piece')} elsewhere."
        return f" No fresh sign logged{' anywhere' if self.rows else ''}."


def lately(
    session: Session, scope: Scope, days: int | None = None, until: date | None = None
) -> Lately:
    """Say what is hot in the scope's areas.

    Args:
        scope: which areas and bucks.
        days: how many days to look back, the last one counted; without it all from the scope's
            first day on, where one was asked for, else DAYS.
        until: the last day; None is today if that lies within the scope's days, else the day of the
            latest picture or sign in them; of the latest picture, where else nothing can be told.

    Raises:
        UsageError: no day at all.
    """
    if days is not None and days < 1:
        raise UsageError(f"{days} days back", "give 1 or more")
    newest = session.con.execute(
        "SELECT (SELECT max(day) FROM detections WHERE day BETWEEN $a AND $b),"
        " (SELECT max(seen_on) FROM made_windows WHERE seen_on BETWEEN $a AND $b)",
        {"a": scope.first, "b": scope.last},
    ).fetchone()
    pictured, signed = newest or (None, None)
    latest = max(filter(None, (pictured, signed)), default=None)
    today = date.today()  # noqa: DTZ011 - the user's own day is meant
    within = today if scope.first <= today <= scope.last else None
    from_first = days is None and scope.season is None and scope.phase is None
    if from_first and scope.first > EARLIEST:
        last = until or min(scope.last, max(today, scope.first))
        one = replace(scope, last=last)
    else:
        last = until or within or latest or min(scope.last, today)
        one = replace(scope, first=last - timedelta(days=(days or DAYS) - 1), last=last)
    q = asked(session, one)
    mature = mature_of(session, scope, q.bucks).bucks
    signs, elsewhere = _signs(session, one)
    found = (
        _row(q, i, mature, *signs.get(s.id, (0, 0, None))) for i, s in enumerate(q.reach.spots)
    )
    rows = sorted(
        filter(None, found),
        key=lambda r: (r.latest, r.visits, r.fresh_sign, r.bright_sign),
        reverse=True,
    )
    watch = q.watch()
    watched = any(w.nights_watched for w in watch.values())
    if until is None and last == latest and pictured and pictured < last and not (rows or watched):
        return lately(session, scope, days, pictured)
    why = _why(one, bool(rows), watched, pictured, latest)
    return Lately(tuple(rows), one.first, last, watch, METHOD, why, latest, pictured, elsewhere)


def _signs(session: Session, scope: Scope) -> tuple[dict[str, tuple[int, int, date]], int]:
    """Count each area's fresh and bright signs, and give the newest day; count those elsewhere."""
    looks = new_looks(session, scope.first, scope.last)
    fresh = {look.sign for look in looks if not look.bright}
    bright = {look.sign for look in looks} - fresh
    newest = {look.sign: look.newest for look in sorted(looks, key=lambda one: one.newest)}
    given = {**scope.sql(), "fresh": list(fresh), "bright": list(bright)}
    rows = run_sql(session.con, __file__, "lately.sql", **given).fetchall()
    near = {sign for *_, mine in rows for sign in mine}
    found = {area: (a, b, max(newest[s] for s in mine)) for area, a, b, mine in rows}
    return found, len(newest.keys() - near)


def _row(
    q: Asked, spot: int, mature: frozenset[int], fresh: int, bright: int, newest: date | None
) -> LatelyRow | None:
    visited, area = q.visited, q.reach.spots[spot]
    his = np.isin(visited.buck, list(mature)) & (visited.apart == SURE)
    at = np.flatnonzero((visited.spot == spot) & his & visited.shooting)
    if not len(at) and not fresh and not bright:
        return None
    at = at[np.argsort(visited.utc[at])]
    visit = visited.local_time(at[-1]) if len(at) else None
    names = dict.fromkeys(q.bucks.names[b] for b in visited.buck[at][::-1])
    day = int((visited.light[at] == DAY).sum())
    return LatelyRow(
        area=area.name,
        area_id=area.id,
        latest=max(filter(None, (visit and visit.date(), newest))),
        fresh_sign=fresh,
        visits=len(at),
        day=day,
        gray=len(at) - day,
        bucks=tuple(names),
        latest_visit=visit,
        nights_watched=len(q.watching[spot].nights),
        weak_times=int(visited.weak[at].sum()),
        bright_sign=bright,
        latest_sign=newest,
    )


def _why(
    scope: Scope, any_row: bool, watched: bool, pictured: date | None, latest: date | None
) -> tuple[str, ...]:
    newest, what = pictured or latest, "tagged picture" if pictured else "sign"
    return reasons(
        f"days: {scope.first} to {scope.last}",
        newest is not None
        and not scope.first <= newest <= scope.last
        and f"for the days up to your newest {what}: camsign lately --to {newest}",
        f"mature means {scope.mature_age:g} years or older in that season",
        None
        if any_row
        else f"neither fresh sign near your areas nor a mature buck in shooting light; {ABSENCE}"
        if watched
        else ABSENCE,
    )
