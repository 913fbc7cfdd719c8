"""A hybrid logical clock: when something was said, in an order on which all copies agree.

A stamp is the wall clock in UTC to the millisecond with a counter, as text that sorts: whoever has
seen a stamp gives a later one, even with a clock that is behind.
Source: Kulkarni et al. 2014, "Logical physical clocks", OPODIS, LNCS 8878:17-32.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

_MOST = 99_999
FIRST = "0001-01-01T00:00:00.000Z-00000"


def next_stamp(now: datetime, seen: str = FIRST) -> str:
    """Give a stamp later than `seen` and not before `now` (aware)."""
    wall = _wall(now)
    seen_wall, counter = seen[:-6], int(seen[-5:])
    if wall > seen_wall:
        return f"{wall}-00000"
    if counter < _MOST:
        return f"{seen_wall}-{counter + 1:05d}"
    # The counter is full: the next millisecond, so that the text goes on sorting.
    return f"{_wall(datetime.fromisoformat(seen_wall) + timedelta(milliseconds=1))}-00000"


def _wall(now: datetime) -> str:
    return now.astimezone(UTC).isoformat(timespec="milliseconds").removesuffix("+00:00") + "Z"
