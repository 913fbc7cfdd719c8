"""Which bucks are mature in the season of a question."""

from __future__ import annotations

from dataclasses import dataclass

from camsign.answers.buck_ends import ended_days
from camsign.answers.detections import Bucks
from camsign.answers.reach import sql_text
from camsign.answers.scope import Scope
from camsign.logbook.moments import latest_season, season_of
from camsign.logbook.session import Session


@dataclass(frozen=True, slots=True)
class Mature:
    """Numbers of the mature bucks, and of those whose age nobody said.

    Who had ended by the last of the days is in neither, but in `ended`.
    """

    bucks: frozenset[int]
    unknown: frozenset[int]
    ended: frozenset[int] = frozenset()


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
    for buck, age, year in session.con.execute(sql_text("ages.sql")).fetchall():
        number = bucks.number.get(buck)
        # A merged buck's own age stands before that of the one merged into him.
        if number is not None and (number not in ages or buck == bucks.ids[number]):
            ages[number] = age + (season - (year if year is not None else season))
    return ages
