"""How often a buck bedded at an area in the last three weeks: what `tonight` goes by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from camsign.answers.bedding import BeddedBuck, bedded_bucks
from camsign.answers.beds_known import Known
from camsign.answers.detections import Bucks
from camsign.answers.reach import Watching
from camsign.answers.scope import Scope
from camsign.logbook.session import Session

# A buck's bed of the last days says more than that of the season; so many days count as the last.
LATELY_DAYS = 21
FEWEST_DAYS = 7


def bedded_lately(
    session: Session,
    scope: Scope,
    area_id: str,
    bucks: Bucks,
    watching: Watching,
    known: Known,
    found: Sequence[BeddedBuck],
) -> tuple[BeddedBuck, ...]:
    """Give who was seen there in the scope's last days, of the others their season.

    Args:
        session: an open logbook.
        scope: the days up to the one asked for, and the area.
        area_id: the area.
        bucks: who is asked about.
        watching: the days it was watched, of the scope.
        known: what the model of beds knows of them.
        found: the same bucks over all of the scope's days.

    Returns:
        Rows with a known share only; with fewer than a week watched lately, the season's.
    """
    first = max(scope.first, scope.last - timedelta(days=LATELY_DAYS - 1))
    recent = watching.within(first, scope.last)
    rows = {buck.buck_id: buck for buck in found}
    if len(recent.days) >= FEWEST_DAYS:
        last = replace(scope, season=None, first=first)
        now = bedded_bucks(session, last, area_id, bucks, recent, known)
        rows |= {buck.buck_id: buck for buck in now}
    return tuple(buck for buck in rows.values() if buck.share.value is not None)
