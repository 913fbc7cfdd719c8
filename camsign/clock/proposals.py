"""What would put a clock right that the audit found wrong, as corrections ready for the journal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from camsign.clock.audit import Finding
from camsign.clock.resets import WIDEST_PLACED_S
from camsign.clock.rules import BY_NAMES, EARLIEST, LATEST, ClockFix, ClockPiece, begun
from camsign.clock.verdicts import (
    DRIFTS,
    IMPOSSIBLE,
    RESET,
    STEPPED,
    TOLERATED_MIN,
    WRONG,
    whole_hour,
    width,
)
from camsign.formats import days
from camsign.logbook.moments import as_text
from camsign.logbook.records import Deployment, offset_text
from camsign.units import counted
from camsign.zones import offset_s

_SECOND = timedelta(seconds=1)


def what_it_does(finding: Finding, correction: ClockFix, done: bool = False) -> str:
    """Say what applying a correction does: `move its 195 pictures (Sep 3 to Oct 4, 2025) 1 h
    earlier`; or has done."""
    first = correction.shown_from or finding.clock_from
    last = correction.shown_until or finding.clock_until
    part = first > finding.clock_from or last < finding.clock_until
    some = "pictures" if part else counted(finding.frames, "picture")
    its = f"its {some} ({days.span(first.date(), (last - _SECOND).date())})"
    way = _way(finding, correction)
    if done:
        return f"{its} {f'are now {way}' if way else 'have their right times now'}"
    return f"move {its} {way}" if way else f"re-time {its}"


def _way(finding: Finding, correction: ClockFix) -> str | None:
    """Which way pictures move: `1 h earlier`, `3,874 days later`; None where not all do alike."""
    if correction.kind == "shift":
        minutes = round(correction.value / 60)
    elif finding.place_by_shift_s is not None and finding.offset_minutes.value is not None:
        minutes = -round(finding.offset_minutes.value)
    else:
        return None
    return days.moved_words(minutes)


def propose(
    finding: Finding, deployment: Deployment, pieces: Sequence[ClockPiece]
) -> list[ClockFix]:
    """Give the corrections that a finding of a stretch calls for, as `_proposed` does; by the order
    of files where another stretch showed the same times."""
    found = _proposed(finding, deployment, pieces)
    if not finding.ends or [(fix.shown_from, fix.shown_until) for fix in found] != [_span(finding)]:
        return found
    bare = replace(found[0], shown_from=None, shown_until=None)
    return [replace(bare, frames=ends) for ends in finding.ends]


def _proposed(
    finding: Finding, deployment: Deployment, pieces: Sequence[ClockPiece]
) -> list[ClockFix]:
    """Give the corrections that a finding of a stretch calls for, by the pieces of the clock as it
    is read so far; none if it is right or not known.

    A whole hour within the interval is preferred to the estimate, since clocks are mostly wrong by
    whole hours (common practice, no source).
    """
    if finding.verdict not in WRONG:
        return []
    span = _span(finding)
    if finding.place_by_shift_s is not None:
        if width(finding.offset_minutes) * 60 > WIDEST_PLACED_S:
            return []
        start = finding.clock_from
        true = start.replace(tzinfo=UTC) + timedelta(seconds=finding.place_by_shift_s)
        return [ClockFix("", "pairs", [_pair(start, true)], *span, _reason(finding), True)]
    if finding.offset_minutes.value is None or finding.verdict in (RESET, IMPOSSIBLE):
        return []
    within = [p for p in pieces if p.shown_from < (span[1] or LATEST)]
    within = [p for p in within if p.shown_until > (span[0] or EARLIEST)]
    ruled = not any(p.basis.startswith("correction") for p in within)
    if finding.verdict == STEPPED and ruled:
        return _for_step(finding, deployment, within, span)
    if ruled and finding.verdict != DRIFTS:
        seconds = -60.0 * rounded(finding)
        return [ClockFix("", "shift", seconds, *span, _reason(finding))]
    return _by_pairs(finding, within, span)


def _span(finding: Finding) -> tuple[datetime | None, datetime | None]:
    if finding.whole:
        return None, None
    return finding.clock_from, finding.clock_until.replace(microsecond=0) + _SECOND


def rounded(finding: Finding) -> float:
    """The offset [min] to take off: a whole hour if the interval holds one, else whole minutes."""
    hour = whole_hour(finding.offset_minutes)
    return float(round(finding.offset_minutes.value or 0)) if hour is None else hour


def _reason(finding: Finding) -> str:
    return f"{finding.why}; judged from {counted(finding.bursts_used, 'burst')} of pictures"


def _pair(shown: datetime, true: datetime) -> list[str]:
    return [shown.isoformat(), as_text(true)]


def _for_step(
    finding: Finding,
    deployment: Deployment,
    pieces: Sequence[ClockPiece],
    span: tuple[datetime | None, datetime | None],
) -> list[ClockFix]:
    """A clock that follows its place though the rule says no, or the other way, or two shifts."""
    at, step = finding.step_at, finding.step_minutes
    if at is None or step is None:
        return []
    before = rounded(finding)
    tz, why = deployment.tz or "UTC", _reason(finding)
    was = offset_s(tz, at - _SECOND)
    change = offset_s(tz, at) - was
    if before == 0 and step * 60 == change and pieces[0].basis == "hung":
        return [ClockFix("", "local", None, *span, why)]
    if before == 0 and step * 60 == -change and pieces[0].basis in ("local", BY_NAMES):
        return [ClockFix("", "utc_offset", offset_text(int(was / 60)), *span, why)]
    piece = next((p for p in pieces if p.utc(p.shown_until) >= at), pieces[-1])
    edge = _shown(piece, at)
    parts = ((before, span[0], edge), (before + step, edge, span[1]))
    return [
        ClockFix("", "shift", -60.0 * ahead, start, stop, why)
        for ahead, start, stop in parts
        if abs(ahead) > TOLERATED_MIN
    ]


def _shown(piece: ClockPiece, at: datetime) -> datetime:
    """What a clock under this piece showed at an instant."""
    since = (at - piece.utc(piece.shown_from)).total_seconds()
    return piece.shown_from + timedelta(seconds=round(since / (1 - piece.drift)))


def _by_pairs(
    finding: Finding,
    pieces: Sequence[ClockPiece],
    span: tuple[datetime | None, datetime | None],
) -> list[ClockFix]:
    """Two pairs a piece: the beginning and the end of what the camera showed, put right."""
    ahead, parts = _ahead(finding, pieces), _parted(pieces, finding.step_at)
    said = []
    for piece in parts:
        first = max(piece.shown_from, finding.clock_from)
        last = min(piece.shown_until, finding.clock_until + _SECOND)
        if first >= last:
            continue
        middle = piece.utc(first + (last - first) / 2)
        stepped = finding.step_at is not None and middle >= finding.step_at
        step = (finding.step_minutes or 0.0) if stepped else 0.0
        ends = [(t, piece.utc(t)) for t in (first, last)]
        pairs = [_pair(shown, read - timedelta(minutes=ahead(read) + step)) for shown, read in ends]
        start = span[0] if piece is parts[0] else piece.shown_from
        stop = span[1] if piece is parts[-1] else piece.shown_until
        said.append(ClockFix("", "pairs", pairs, start, stop, _reason(finding), piece.estimated))
    return said


def _parted(pieces: Sequence[ClockPiece], at: datetime | None) -> list[ClockPiece]:
    """Cut the piece in which a clock stepped at that instant."""
    found = []
    for piece in pieces:
        edge = _shown(piece, at) if at else piece.shown_from
        if piece.shown_from < edge < piece.shown_until:
            found += [replace(piece, shown_until=edge), begun(piece, edge)]
        else:
            found.append(piece)
    return found


def _ahead(finding: Finding, pieces: Sequence[ClockPiece]) -> Callable[[datetime], float]:
    """How far ahead [min] the clock is, by the instant as it is read so far."""
    if finding.drift_minutes_per_week is None:
        fixed = rounded(finding)
        return lambda read: fixed
    value, rate = finding.offset_minutes.value or 0.0, finding.drift_minutes_per_week
    middle = finding.clock_from + (finding.clock_until - finding.clock_from) / 2
    piece = next((p for p in pieces if p.shown_from <= middle < p.shown_until), pieces[0])
    center = piece.utc(middle)
    week = timedelta(weeks=1)
    return lambda read: value + rate * ((read - center) / week)
