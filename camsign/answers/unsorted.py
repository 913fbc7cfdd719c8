"""What an answer about several spots says of pictures that nobody has sorted yet."""

from __future__ import annotations

from collections.abc import Mapping

from camsign.answers.result import Watch, listed, not_sorted
from camsign.logbook.moments import latest_season, season_of
from camsign.logbook.session import Session
from camsign.units import counted

# How many spots are named; our choice.
_NAMED = 3


def unsorted_at(watch: Mapping[str, Watch], much: bool = False, days: str = "") -> str:
    """Say how many nights are not sorted at the spots with the most, and how many others have some;
    empty without any. `much`: only of those where they may mislead; `days`: of which the nights
    are, such as `in the last three weeks`."""
    waits = {s: one for s, one in watch.items() if (one.much_waits if much else one.but_unsorted)}
    if not waits:
        return ""
    most = sorted(waits, key=lambda spot: -waits[spot].nights_unsorted)
    told = [_nights(waits[spot], days, bool(i)) for i, spot in enumerate(most[:_NAMED])]
    if len(watch) > 1:
        told = [f"{nights} at {spot}" for nights, spot in zip(told, most, strict=False)]
    if others := len(most[_NAMED:]):
        told.append(f"some at {counted(others, 'other place')}")
    return not_sorted(listed(told), len(waits) == 1 and waits[most[0]].nights_unsorted == 1)


def _nights(watch: Watch, days: str, more: bool) -> str:
    """Say how many of a spot's nights are not sorted; `more`: after those of another."""
    many = watch.nights_unsorted + watch.nights_watched
    nights = f"{many:,}" if more else counted(many, "night") + (days and f" covered {days}")
    return f"{watch.nights_unsorted} of {'the ' if days else ''}{nights}"


def but_unsorted_at(watch: Mapping[str, Watch]) -> str:
    """What to add where nobody is said to have come: the nights that are not sorted, if any."""
    told = unsorted_at(watch)
    return f"; {told}" if told else ""


def waiting_at(watch: Mapping[str, Watch], days: str = "") -> str | None:
    """Why nothing is told of the whole: so much waits at a spot (`Watch.waiting`); else None.

    `days`: as for `unsorted_at`.
    """
    if not any(one.waiting for one in watch.values()):
        return None
    return f"{unsorted_at(watch, True, days)}. Sort them first"


def sort_first(watch: Mapping[str, Watch]) -> str:
    """What to say behind an answer that may mislead, so much waits at a spot; else empty."""
    told = unsorted_at(watch, much=True)
    return f" But {told}. Sort them first." if told else ""


def untagged_season(session: Session) -> str:
    """Say that answers are of an earlier season than the newest pictures, since no animal is tagged
    in any of that one yet; else empty."""
    season, start = latest_season(session), session.settings.season_start
    row = session.con.execute("SELECT max(day) FROM frame_times WHERE doubt IS NULL").fetchone()
    newest = season_of(row[0], start) if row and row[0] else None
    if season is None or newest is None or newest <= season:
        return ""
    return (
        f"you loaded pictures of season {newest} and tagged no animal in them yet: answers are "
        f"about season {season} until you do, unless you ask for another"
    )
