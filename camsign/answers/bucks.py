"""The bucks of a question: who they are, who is mature, who had ended, and what is tagged of them.

How one ended people say in words ("shot 2025-11-12", "hit on Route 3, Nov 9"). A day in them is
that day; a day without a year is the first such day after his last picture. With no day in the
words he is gone from the day after his last picture on. From that day on he counts nowhere.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from camsign.answers.scope import DOES, Scope
from camsign.logbook.database import run_sql
from camsign.logbook.moments import latest_season, season_of
from camsign.logbook.named import known_bucks
from camsign.logbook.session import Session
from camsign.units import MONTHS, counted

_NAME = rf"(?P<month>{'|'.join(MONTHS)})[a-z]*\.?"
_SPELLINGS = tuple(
    re.compile(rf"(?<!\w){spelling}(?!\w)", re.IGNORECASE)
    for spelling in (
        r"(?P<year>\d{4})-(?P<number>\d{1,2})-(?P<day>\d{1,2})",
        r"(?P<number>\d{1,2})/(?P<day>\d{1,2})/(?P<year>\d{4})",
        rf"{_NAME}\s+(?P<day>\d{{1,2}})(?:st|nd|rd|th)?(?:,?\s+(?P<year>\d{{4}}))?",
        rf"(?P<day>\d{{1,2}})(?:st|nd|rd|th)?\s+{_NAME}(?:,?\s+(?P<year>\d{{4}}))?",
    )
)


@dataclass(frozen=True, slots=True)
class Bucks:
    """The bucks of a question by number: permanent ids, names, and numbers by any id of theirs."""

    ids: tuple[str, ...]
    names: tuple[str, ...]
    number: dict[str, int]

    def only(self, keep: Sequence[int]) -> Bucks:
        """Give these of them, numbered anew in this order."""
        new = {old: i for i, old in enumerate(keep)}
        number = {tag: new[i] for tag, i in self.number.items() if i in new}
        return Bucks(tuple(self.ids[i] for i in keep), tuple(self.names[i] for i in keep), number)


def bucks_of(session: Session, scope: Scope) -> Bucks:
    """Give the bucks of a scope, all that stand if it names none; of does, their companies."""
    if scope.who == "does":
        keys = scope.buck_ids or tuple(DOES)
        return Bucks(keys, tuple(DOES[key] for key in keys), {k: i for i, k in enumerate(keys)})
    known = known_bucks(session)
    asked = None if scope.buck_ids is None else set(scope.buck_ids)
    ids = [b for b in dict.fromkeys(known.now.values()) if asked is None or b in asked]
    ids.sort(key=lambda b: (known.name(b).lower(), b))  # what is said of them decides, not their id
    order = {b: i for i, b in enumerate(ids)}
    number = {was: order[b] for was, b in known.now.items() if b in order}
    return Bucks(tuple(ids), tuple(known.name(b) for b in ids), number)


def ended_days(session: Session, bucks: Bucks) -> dict[int, date]:
    """Give the first local day on which each buck who ended counts no more, by his number."""
    ended = "b.ended IS NOT NULL AND b.gone IS NOT TRUE"
    # Most often nobody has: then a million detections need not be looked through.
    if session.con.execute(f"SELECT 1 FROM bucks b WHERE {ended} LIMIT 1").fetchone() is None:
        return {}
    rows = session.con.execute(
        "SELECT b.buck, b.ended, max(d.day) FROM bucks b JOIN bucks_now n ON n.buck_id = b.buck"
        " LEFT JOIN detections d ON d.buck_id = n.buck AND d.sure IS DISTINCT FROM 'unsure'"
        f" AND d.doubt IS NULL WHERE {ended} GROUP BY ALL"
    ).fetchall()
    return {
        bucks.number[buck]: day_in(words, last) or (last + timedelta(days=1) if last else date.min)
        for buck, words, last in rows
        if buck in bucks.number and words.strip()
    }


def is_gone(name: str, ended: date) -> str:
    """Say that a buck is gone, and since when if any day is known."""
    return f"{name} is gone" + (f": he ended {ended}" if ended > date.min else "")


def day_in(words: str, last_seen: date | None) -> date | None:
    """Give the day that words name, None if they name none."""
    for spelling in _SPELLINGS:
        for found in spelling.finditer(words):
            if (day := _day(found.groupdict(), last_seen)) is not None:
                return day
    return None


def _day(parts: dict[str, str | None], last_seen: date | None) -> date | None:
    month = parts.get("number") or 1 + MONTHS.index((parts.get("month") or "").lower())
    named = parts.get("year")
    years = [int(named)] if named else [last_seen.year, last_seen.year + 1] if last_seen else []
    for year in years:
        try:
            day = date(year, int(month), int(parts["day"] or 0))
        except ValueError:
            continue
        if named or last_seen is None or day >= last_seen:
            return day
    return None


@dataclass(frozen=True, slots=True)
class Mature:
    """Numbers of the mature bucks, and of those whose age nobody said.

    Who had ended by the last of the days is in neither, but in `ended`.
    """

    bucks: frozenset[int]
    unknown: frozenset[int]
    ended: frozenset[int] = frozenset()


def ageless_of(bucks: Bucks, mature: Mature, came: Iterable[int]) -> tuple[str, ...]:
    """Give the names of those that came whose age nobody said: they count for nothing."""
    return tuple(sorted(bucks.names[b] for b in set(came) & mature.unknown))


def mature_of(session: Session, scope: Scope, bucks: Bucks, living: bool = True) -> Mature:
    """Sort the bucks of a question; an age judged in another season is carried on to this one.

    With `living` those who had ended by the last of the days are set aside: nobody competes with
    them.

    Of days that are no season it is that of the last of them, or of the latest detection if that
    comes before.
    """
    if scope.who == "does":
        return Mature(frozenset(range(len(bucks.ids))), frozenset())
    ages = ages_of(session, scope, bucks)
    known = frozenset(n for n, age in ages.items() if age >= scope.mature_age)
    gone = frozenset(
        n for n, day in ended_days(session, bucks).items() if living and day <= scope.last
    )
    unknown = frozenset(range(len(bucks.ids))) - ages.keys() - gone
    return Mature(known - gone, unknown, gone)


def ages_of(session: Session, scope: Scope, bucks: Bucks) -> dict[int, float]:
    """Give the ages [years] in the season asked for, by number, of bucks whose age was said."""
    season = scope.season
    if season is None:
        asked, latest = season_of(scope.last, session.settings.season_start), latest_season(session)
        season = asked if latest is None else min(asked, latest)
    ages: dict[int, float] = {}
    for buck, age, year in run_sql(session.con, __file__, "ages.sql").fetchall():
        number = bucks.number.get(buck)
        # A merged buck's own age stands before that of the one merged into him.
        if number is not None and (number not in ages or buck == bucks.ids[number]):
            ages[number] = age + (season - (year if year is not None else season))
    return ages


def tagged_in_words(
    session: Session, bucks: Bucks, first: date, last: date, deployments: Sequence[str] | None
) -> str | None:
    """Say how many pictures of which bucks there are, and how many others wait; None without any.

    So that nobody reads it as absence where no rate can be given yet. Of these local days, both
    within, and deployments (None for all).
    """
    if not bucks.number:
        return None
    rows = run_sql(
        session.con,
        __file__,
        "tagged.sql",
        tagged=list(bucks.number),
        names=[bucks.names[i] for i in bucks.number.values()],
        deployments=None if deployments is None else list(deployments),
        first=first,
        last=last,
    ).fetchall()
    if not rows:
        return None
    seen = [
        f"{counted(pictures, 'picture')} of {name}"
        + (f" on {counted(nights, 'day')}" if nights else "")
        for name, pictures, nights, _ in rows
    ]
    waiting = rows[0][3]
    verb = "is" if waiting == 1 else "are"
    rest = f"; {counted(waiting, 'other')} {verb} not sorted" if waiting else ""
    return f"{', '.join(seen)}{rest}"
