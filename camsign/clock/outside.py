"""Pictures from outside the days a camera hung: a date that can't be, or a hang date to ask about.

Being older than the hang or newer than the take-down makes no clock wrong: somebody may have said
the wrong day. A clock is called wrong by what can't be so whatever was said of its hang:

- it showed a year before such cameras, or a day after its card was loaded;
- it went back by a year or more while the file numbers went on behind a good picture; or by more
  than two hours, and daylight does not fit what it showed then;
- it began at its maker's date: January 1, within two hours behind midnight or noon, a year or more
  before the hang, and daylight does not fit what it showed.

That cameras begin at January 1 is common practice, without a source; the limits are our choice.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

import numpy as np

from camsign.arrays import Bools, Floats, Ints
from camsign.clock.audit_input import LOADED_S, AuditInput
from camsign.clock.resets import DAY_S
from camsign.clock.stretches import BACK_S, Shots
from camsign.errors import quoted
from camsign.formats.days import begins, ends
from camsign.formats.shown import EARLIEST_LIKELY_YEAR
from camsign.logbook.records import Deployment
from camsign.units import counted, numbered
from camsign.zones import zone

SET_BACK_S = 43200.0
"""A date that goes back so far on a card is asked about; hours daylight tells [s]. Our choice."""

Span = tuple[datetime, datetime]

_ZERO = datetime.fromisoformat("1970-01-01")
_YEAR_S = 365 * DAY_S
_STARTED = timedelta(hours=2)
FEW = 5


def naive(seconds: float) -> datetime:
    """Give a reading counted in seconds; Windows knows no timestamps before 1970."""
    return _ZERO + timedelta(seconds=float(seconds))


def gone_back_s(mine: Shots, at: Ints) -> float:
    """Give by how much a stretch (indices) begins earlier than the good file before it in its
    folder [s]; 0 where that is none."""
    first = int(at[0])
    same = (mine.card[:first] == mine.card[first]) & (mine.folder[:first] == mine.folder[first])
    before = np.flatnonzero(same & np.isfinite(mine.shown_s[:first]))
    if not len(before) or mine.near[before[-1]] < 0:
        return 0.0
    return max(0.0, float(mine.shown_s[before[-1]] - mine.shown_s[first]))


def surely_wrong(back_s: float, first: datetime, loaded: datetime) -> bool:
    """Say whether a clock that showed this `first` can't be right, whatever its light says."""
    return back_s >= _YEAR_S or no_such_date(first, loaded)


def maybe_wrong(back_s: float, first: datetime, hung: Deployment | None) -> bool:
    """Say whether it began anew by the look of it, if its light does not speak for it."""
    return back_s > BACK_S or makers_date(first, hung)


def no_such_date(first: datetime, loaded: datetime) -> bool:
    """Say whether no camera that is right can show that on a card loaded then (UTC, aware)."""
    late = loaded.replace(tzinfo=None) + timedelta(seconds=LOADED_S)
    return first.year < EARLIEST_LIKELY_YEAR or first > late


def makers_date(first: datetime, hung: Deployment | None) -> bool:
    """Say whether a clock that showed this first looks as if it had begun at its maker's date."""
    since = timedelta(hours=first.hour % 12, minutes=first.minute)
    early = hung is None or hung.hung.timestamp() - _seconds(first) >= _YEAR_S
    return (first.month, first.day) == (1, 1) and since < _STARTED and early


def _seconds(reading: datetime) -> float:
    return (reading - _ZERO).total_seconds()


def whose(deployments: list[Deployment], camera: str, read_s: Floats) -> Deployment | None:
    """Give the next deployment that begins behind what was read [s]; else the last before it."""
    mine = [d for d in deployments if d.camera == camera]
    later = [d for d in mine if d.hung.timestamp() > read_s.min()]
    return later[0] if later else mine[-1] if mine else None


def said_and_remedy(
    hung: Deployment,
    frames: int,
    first: datetime,
    last: datetime,
    run: Span,
) -> tuple[str, str, date | None]:
    """Say of pictures outside a deployment's days what disagrees, and the two ways to settle it.

    A wrong clock was wrong for all of `run`, what it showed without a break from first to last. The
    third is the day since which it would have hung, None where they are newer than its take-down.
    """
    place = zone(hung.tz or "UTC")
    older = hung.hung.astimezone(place).replace(tzinfo=None) > first
    if older or hung.taken_down is None:
        which, at = "older than the day you hung it", begins(hung.hung.astimezone(place))
        way = f"hang date? camsign hang correct {hung.deployment} --from {first:%Y-%m-%d}"
    else:
        which = "newer than the day you took it down"
        at = ends(hung.taken_down.astimezone(place))
        way = f"take-down date? camsign hang correct {hung.deployment} --until {last:%Y-%m-%d}"
    why = f"{numbered(frames, 'picture is', 'pictures are')} {which} ({at[:10]})"
    by_hand = clock_by_hand(hung.camera, *run)
    remedy = f"Wrong {way}. Or is the clock off? {by_hand}"
    return why, remedy, first.date() if older else None


def just_outside(read: AuditInput) -> list[str]:
    """Say which pictures miss a deployment by less than a day and a half, and what settles it;
    their clock is judged with those inside. Where others miss it by more, all count with those."""
    shots, told = read.shots, []
    for near, hung in enumerate(read.deployments):
        if hung.camera not in read.cameras:
            continue
        mine = shots.camera == read.cameras.index(hung.camera)
        for side in _sides(shots, hung):
            out = mine & side & (shots.deployment < 0)
            if (out & (shots.near < 0)).any():
                continue
            if shown := [naive(at) for at in shots.shown_s[out & (shots.near == near)]]:
                ends = min(shown), max(shown)
                run = shown_span(shots.some(mine & (shots.near == near)))
                why, remedy, _ = said_and_remedy(hung, len(shown), *ends, run)
                told.append(f"{why}. {remedy}")
    return told


def shown_span(shots: Shots) -> Span:
    """Give the first and the last time that the clock showed in these frames."""
    return naive(np.nanmin(shots.shown_s)), naive(np.nanmax(shots.shown_s))


def nearby(mine: Shots, hung: Deployment, lost_s: Floats) -> int:
    """Count a camera's frames that miss a deployment by little, on the side of those lost [s]."""
    older = lost_s.max() < hung.hung.timestamp()
    side = _sides(mine, hung)[0 if older else 1]
    return int((side & (mine.deployment < 0) & (mine.near >= 0)).sum())


def _sides(shots: Shots, hung: Deployment) -> tuple[Bools, Bools]:
    """Say which frames were read as older than a deployment, and which as newer."""
    stop = hung.taken_down.timestamp() if hung.taken_down else np.inf
    return shots.read_s < hung.hung.timestamp(), shots.read_s > stop


def set_back_s(before: Floats, behind: Floats) -> float:
    """Give how far what lies behind on a card begins before what ended there [s]: by the second
    frame of each from there, since one odd date sets no clock back; 0 with fewer than five."""
    if min(len(before), len(behind)) < FEW:
        return 0.0
    return float(np.sort(before[-FEW:])[-2] - np.sort(behind[:FEW])[1])


def read_back_s(shots: Shots) -> tuple[int, float]:
    """Give where in a folder of a stretch a fix of its clock sends what lies behind furthest back,
    and by how much [s]; 0 where it goes on."""
    step = np.diff(shots.read_s)
    step[(np.diff(shots.folder) != 0) | (np.diff(shots.card) != 0)] = 0.0
    if not len(step) or np.nanmin(step) >= 0:
        return 0, 0.0
    at = int(np.nanargmin(step)) + 1
    return at, max(0.0, set_back_s(shots.read_s[:at], shots.read_s[at:]))


def set_back(back_s: float, first: datetime) -> tuple[str, str]:
    """Say that a date goes back so far [s] at a picture that shows `first`, and what to do."""
    days = counted(round(back_s / DAY_S), "day")
    return (
        f"the date goes back {days} in the middle of the card, at the picture of "
        f"{first:%Y-%m-%d %H:%M}",
        "The dates before it or after it are off; daylight can't tell which. Look at both for what "
        "you know the day of: snow, leaves, yourself. If the camera writes over its oldest "
        "pictures, nothing is wrong",
    )


def by_files(camera: str, first: datetime, ends: Sequence[tuple[str, str]]) -> str:
    """Give the command that sets a stretch's clock by the order of its files on its first card."""
    if not ends:
        return ""
    start, stop = ends[0]
    return (
        f". Are those from there on off? camsign clock set {quoted(camera)}"
        f' --shown "{first:%Y-%m-%d %H:%M}" --true WHEN --from {start[:12]} --to {stop[:12]}'
    )


def clock_by_hand(camera: str, first: datetime, last: datetime) -> str:
    """Give the command that tells one right time of what a camera showed from first to last."""
    return (
        f'camsign clock set {quoted(camera)} --shown "{first:%Y-%m-%d %H:%M}" --true WHEN'
        f" --from {first:%Y-%m-%d} --to {last:%Y-%m-%d}"
    )


def odd_offset(camera: str, deployment: str, shots: Shots) -> tuple[str, str]:
    """Say how many pictures state an offset from UTC that the place doesn't have, and the command
    that says that their clock is right; frame_times.sql has it too."""
    many = numbered(int(shots.odd.sum()), "picture states", "pictures state")
    why = f"{many} an offset from UTC that the place doesn't have and count in no answer"
    ahead = round(float(np.median((shots.shown_s - shots.read_s)[shots.odd])) / 60)
    sign, (hours, minutes) = "-" if ahead < 0 else "+", divmod(abs(ahead), 60)
    return why, (
        f"If the clock is right: camsign clock set {quoted(camera)}"
        f" --utc-offset={sign}{hours:02d}:{minutes:02d} --deployment {quoted(deployment)}"
    )
