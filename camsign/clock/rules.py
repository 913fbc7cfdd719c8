"""A deployment's clock as pieces: what the camera showed, minus an offset that may drift, is UTC.

Rules: `hung` keeps the place's UTC offset of the day it was hung, as most cameras do; `local`
follows the place's clock through its switches; `±HH:MM` is fixed. Corrections (`ClockFix`) are laid
over the rule in the order in which they were said; within its span the last word wins.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

from camsign.errors import UsageError
from camsign.formats.shown import read_offset
from camsign.logbook.records import Deployment, checked_rule
from camsign.zones import offset_s, offsets

# What a camera shows outside these years is no reading at all.
EARLIEST = datetime.fromisoformat("1900-01-01")
LATEST = datetime.fromisoformat("2200-01-01")
BY_NAMES = "local, as names say"
_AROUND = timedelta(days=400)
_AHEAD = timedelta(days=3650)


@dataclass(frozen=True, slots=True)
class ClockFix:
    """A correction, for what the camera showed in [shown_from, shown_until), naive; None: without
    end. `clock_fix`: its id in the journal, "" while it is only proposed.

    `kind` and `value`: `pairs` [[shown, true UTC], …]; `utc_offset` "±HH:MM"; `local` None;
    `shift` seconds to add to what was shown before the deployment's own rule applies. `frames`: it
    speaks of a card's files from one frame to another instead, whatever they showed; None: from its
    first, to its last.
    """

    clock_fix: str
    kind: str
    value: Any
    shown_from: datetime | None = None
    shown_until: datetime | None = None
    reason: str = ""
    estimated: bool = False
    frames: tuple[str | None, str | None] | None = None

    def fields(self, deployment: Deployment) -> dict[str, Any]:
        """Give the fields of the thing clock_fix, to be said."""
        span = {"shown_from": self.shown_from, "shown_until": self.shown_until}
        said: dict[str, Any] = {"camera": deployment.camera, "deployment": deployment.deployment}
        said |= {"kind": self.kind, "value": self.value, "reason": self.reason}
        said |= {k: v.isoformat() for k, v in span.items() if v}
        ends = dict(zip(("from_frame", "until_frame"), self.frames or (), strict=False))
        said |= {k: v for k, v in ends.items() if v}
        return said | ({"estimated": True} if self.estimated else {})


@dataclass(frozen=True, slots=True)
class ClockPiece:
    """For what was shown in [shown_from, shown_until), naive:

    UTC = shown - offset_s [s] - drift [s/s] * (shown - shown_from). Where the picture itself states
    a UTC offset that the place has, that offset + own_s [s] takes the place of offset_s, unless
    own_s is None.
    """

    shown_from: datetime
    shown_until: datetime
    offset_s: float
    drift: float = 0.0
    basis: str = "hung"
    estimated: bool = False
    own_s: float | None = None

    def utc(self, shown: datetime) -> datetime:
        """Give the instant (aware) at which the clock showed this naive reading."""
        drifted = self.drift * (shown - self.shown_from).total_seconds()
        return shown.replace(tzinfo=UTC) - timedelta(seconds=self.offset_s + drifted)


def clock_pieces(
    deployment: Deployment, tz: str, fixes: Sequence[ClockFix] = (), named: bool = False
) -> list[ClockPiece]:
    """Give the pieces of a deployment's clock, in the order of what was shown.

    They cover every reading from 1900 to 2199. Two of them overlap only in the hour that a clock
    under `local` shows twice. A correction that cannot be understood is passed over.

    `tz`: the zone of the place. `fixes`: the corrections that speak of this deployment, in the
    order they were said. `named`: its pictures have their times only from the names of files; then
    `hung`, which nobody may have chosen, is read as `local`, since what sends pictures sets its
    clock by the network and follows the place (common practice, no source).
    """
    if named and deployment.clock == "hung":
        rule = [replace(piece, basis=BY_NAMES) for piece in _local(deployment, tz)]
    else:
        rule = _rule(deployment, tz, deployment.clock)
    pieces = rule
    for fix in fixes:
        span = (fix.shown_from or EARLIEST, fix.shown_until or LATEST)
        if span[0] >= span[1]:
            continue
        try:
            laid = _laid(fix, deployment, tz, rule)
        except (ValueError, TypeError, LookupError):
            continue
        before, behind = _within(pieces, EARLIEST, span[0]), _within(pieces, span[1], LATEST)
        pieces = [*before, *behind, *_within(laid, *span)]
    return sorted(pieces, key=lambda piece: (piece.shown_from, -piece.offset_s))


def _rule(deployment: Deployment, tz: str, clock: str) -> list[ClockPiece]:
    try:
        word = checked_rule(clock)
    except UsageError:
        hung = float(offset_s(tz, deployment.hung))
        basis = f"hung, since the rule {clock!r} is not understood"
        return [ClockPiece(EARLIEST, LATEST, hung, basis=basis, own_s=0.0)]
    if word == "local":
        return _local(deployment, tz)
    if word == "hung":
        return [ClockPiece(EARLIEST, LATEST, float(offset_s(tz, deployment.hung)), own_s=0.0)]
    return [ClockPiece(EARLIEST, LATEST, float(_minutes(word) * 60), basis=word)]


def _minutes(text: str) -> int:
    minutes = read_offset(text)
    if minutes is None:
        raise ValueError(f"{text!r} is no offset")
    return minutes


def _local(deployment: Deployment, tz: str) -> list[ClockPiece]:
    """Pieces of a clock that follows its place; the hour left out in spring is as before it."""
    first = deployment.hung - _AROUND
    last = (deployment.taken_down or deployment.hung + _AHEAD) + _AROUND
    spans = offsets(tz, first, last)
    pieces = []
    for i, span in enumerate(spans):
        ahead = timedelta(seconds=span.seconds)
        start = span.start.replace(tzinfo=None) + ahead if i else EARLIEST
        stop = LATEST
        if i + 1 < len(spans):
            later = timedelta(seconds=max(span.seconds, spans[i + 1].seconds))
            stop = span.stop.replace(tzinfo=None) + later
        pieces.append(ClockPiece(start, stop, float(span.seconds), basis="local"))
    return pieces


def _laid(
    fix: ClockFix, deployment: Deployment, tz: str, rule: list[ClockPiece]
) -> list[ClockPiece]:
    basis = f"correction {fix.clock_fix}"
    if fix.kind == "pairs":
        pieces = _from_pairs(fix.value)
    elif fix.kind == "utc_offset":
        pieces = [ClockPiece(EARLIEST, LATEST, float(_minutes(fix.value) * 60))]
    elif fix.kind == "local":
        pieces = _local(deployment, tz)
    elif fix.kind == "shift":
        pieces = [_shifted(piece, float(fix.value)) for piece in rule]
    else:
        raise ValueError(f"{fix.kind!r} is not known here")
    return [replace(p, basis=basis, estimated=p.estimated or fix.estimated) for p in pieces]


def _shifted(piece: ClockPiece, seconds: float) -> ClockPiece:
    own = None if piece.own_s is None else piece.own_s - seconds
    return replace(piece, offset_s=piece.offset_s - seconds, own_s=own)


def _from_pairs(pairs: Sequence[Sequence[str]]) -> list[ClockPiece]:
    """One pair is an offset; several are joined by straight lines, which run on beyond both ends.

    What lies beyond the ends is marked estimated.
    """
    known = sorted({_naive(shown): _true_offset(shown, true) for shown, true in pairs}.items())
    if len(known) == 1:
        return [ClockPiece(EARLIEST, LATEST, known[0][1])]
    lines = [
        ClockPiece(a, b, low, (high - low) / (b - a).total_seconds())
        for (a, low), (b, high) in pairwise(known)
    ]
    first, last = lines[0], lines[-1]
    before = replace(begun(first, EARLIEST), shown_until=first.shown_from, estimated=True)
    # The last pair's own reading is known, not extrapolated.
    end = last.shown_until + timedelta(microseconds=1)
    lines[-1] = replace(last, shown_until=end)
    behind = replace(begun(last, end), shown_until=LATEST, estimated=True)
    return [before, *lines, behind]


def _naive(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=None)


def _true_offset(shown: str, true: str) -> float:
    instant = datetime.fromisoformat(true).astimezone(UTC).replace(tzinfo=None)
    return (_naive(shown) - instant).total_seconds()


def begun(piece: ClockPiece, start: datetime) -> ClockPiece:
    """Give the same line, written from another beginning."""
    moved = piece.drift * (start - piece.shown_from).total_seconds()
    return replace(piece, shown_from=start, offset_s=piece.offset_s + moved)


def _within(pieces: list[ClockPiece], start: datetime, stop: datetime) -> list[ClockPiece]:
    clipped = []
    for piece in pieces:
        a, b = max(piece.shown_from, start), min(piece.shown_until, stop)
        if a < b:
            clipped.append(replace(begun(piece, a), shown_until=b))
    return clipped
