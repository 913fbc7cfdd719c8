"""What people do with clocks: put one right, have all judged by the sun, take the proposals."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

from camsign.clock import audit as auditing
from camsign.clock.audit import Finding
from camsign.clock.audit_input import AuditInput, deployments, read
from camsign.clock.plot_points import ClockPoints, clock_points
from camsign.clock.proposals import propose
from camsign.clock.rules import ClockFix, ClockPiece
from camsign.errors import UsageError
from camsign.logbook.database import run_sql
from camsign.logbook.edits import SetFields, new_id
from camsign.logbook.moments import as_text, start_of
from camsign.logbook.naming import camera_as_known
from camsign.logbook.records import Deployment, checked_rule
from camsign.logbook.session import Session
from camsign.units import DayOrInstant, parse_when

FRAME = re.compile(r"[0-9a-f]{12,64}")
# A clock loses or gains minutes a week; more than this [s/s] is a slip of the pen.
_MOST_DRIFT = 0.05
_MOST_SHIFT_S = 200 * 365 * 86400.0


@dataclass(frozen=True, slots=True)
class ClockSaid:
    """A correction as said. `clock_from`, `clock_until`: for what the camera showed (naive).

    `deployment` is None where it speaks of a span of the camera's time. `frames`: how many it
    covers. `from_frame`, `until_frame`: for the files of a card between these two instead.
    """

    clock_fix: str
    camera: str
    deployment: str | None
    kind: str
    clock_from: datetime | None
    clock_until: datetime | None
    frames: int
    reason: str | None = None
    estimated: bool = False
    from_frame: str | None = None
    until_frame: str | None = None


@dataclass(frozen=True, slots=True)
class Applied:
    """What was taken over from an audit: the corrections and the deployments they speak of."""

    corrections: int
    deployments: tuple[str, ...]
    findings: tuple[Finding, ...]


def set_clock(
    session: Session,
    camera: str,
    pairs: Sequence[tuple[str, DayOrInstant]] = (),
    utc_offset: str | None = None,
    follows_local: bool = False,
    shift_s: float | None = None,
    deployment: str | None = None,
    start: DayOrInstant | None = None,
    stop: DayOrInstant | None = None,
    reason: str | None = None,
    frames: tuple[str | None, str | None] = (None, None),
) -> ClockSaid:
    """Put a camera's clock right, in one way of the four.

    It speaks of the deployment of this id; else, if a span is given (`start`, `stop`), of what the
    camera showed in it, whole days from their midnight to their end; else of the deployment in
    which the first pair's true time lies, or of the camera's only one. With `frames` (by 12 or more
    hex digits) it speaks of a card's files from one to the other, by their order, whatever they
    showed: a clock that was set back showed the same dates twice.

    Args:
        pairs: what was shown (a time such as `2025-09-01 12:00`, or a frame that pictures the true
            time, by 12 or more hex digits) with the true time. One is an offset, several a drift.
        utc_offset: the clock ran at this offset from UTC, such as `-05:00`.
        follows_local: the clock followed the time of the place through its switches.
        shift_s: this is added to what was shown before the clock rule applies [s].

    Raises:
        UsageError: not exactly one way, no such camera, frame or deployment, or pairs of which a
            clock could not show one after the other.
    """
    name = camera_as_known(session.con, camera)
    kind, value = _way(session, pairs, utc_offset, follows_local, shift_s)
    span = (_shown(start, False), _shown(stop, True))
    if span[0] and span[1] and span[0] >= span[1]:
        raise UsageError("the span of a correction must end after it begins")
    ends = _ends(session, name, frames)
    if any(ends) and (any(span) or deployment):
        raise UsageError("give pictures or times, not both", "name the first and the last picture")
    spanned = any(span) or any(ends)
    hung = _meant(session, name, deployment, value if kind == "pairs" else [], spanned)
    fields: dict[str, Any] = {"camera": name, "kind": kind, "value": value, "reason": reason}
    fields |= {"deployment": hung.deployment if hung else None}
    fields |= {"from_frame": ends[0], "until_frame": ends[1]}
    times = zip(("shown_from", "shown_until"), span, strict=True)
    fields |= {name: at.isoformat() for name, at in times if at}
    fix = new_id("c")
    kept = {k: v for k, v in fields.items() if v is not None or k == "value"}
    session.say(f"set the clock of {name}", [SetFields("clock_fix", fix, kept)])
    many = _covered(session, name, hung, span, ends)
    return ClockSaid(fix, name, fields["deployment"], kind, *span, many, reason, False, *ends)


def corrections(session: Session, camera: str | None = None) -> list[ClockSaid]:
    """Give the corrections that stand, of one camera or of all."""
    name = camera_as_known(session.con, camera) if camera else None
    rows = session.con.execute(
        "SELECT clock_fix, camera, deployment, kind, shown_from, shown_until, reason, estimated,"
        " from_frame, until_frame"
        " FROM clock_fixes WHERE gone IS NOT TRUE AND ($camera IS NULL OR camera = $camera)"
        " ORDER BY camera, shown_from NULLS FIRST, clock_fix",
        {"camera": name},
    ).fetchall()
    hung = {d.deployment: d for d in deployments(session, name)}
    said = []
    for fix, cam, dep, kind, start, stop, reason, estimated, *files in rows:
        first, last = (datetime.fromisoformat(t) if t else None for t in (start, stop))
        span = first, last
        ends = files[0], files[1]
        frames = _covered(session, cam, hung.get(dep), span, ends)
        said.append(ClockSaid(fix, cam, dep, kind, *span, frames, reason, bool(estimated), *ends))
    return said


def remove_correction(session: Session, clock_fix: str) -> ClockSaid:
    """Take a correction away by its id, or the beginning of it; give what it was.

    Raises:
        UsageError: there is none, or several begin so.
    """
    found = [c for c in corrections(session) if c.clock_fix.startswith(clock_fix)]
    if len(found) != 1 or not clock_fix:
        which = "no correction begins" if not found else "several corrections begin"
        raise UsageError(f"{which} with {clock_fix!r}", "see: camsign clock list")
    edit = SetFields("clock_fix", found[0].clock_fix, {"gone": True})
    session.say(f"undid a correction of {found[0].camera}'s clock", [edit])
    return found[0]


def audit(
    session: Session,
    camera: str | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> list[Finding]:
    """Judge the clock of one camera, or of all, by the sun; nothing is changed.

    Raises:
        UsageError: no such camera.
    """
    return auditing.audit(_read(session, camera), progress)


def points(session: Session, camera: str | None = None, most: int = 6) -> list[ClockPoints]:
    """Give the frames of one camera, or of all, as points of a picture; see `clock_points`.

    Raises:
        UsageError: no such camera.
    """
    return clock_points(_read(session, camera), most)


def _read(session: Session, camera: str | None) -> AuditInput:
    name = camera_as_known(session.con, camera) if camera else None
    found = read(session, name)
    if name and not found.cameras and not found.deployments:
        raise UsageError(f"there is no camera {name!r} in this logbook", "see: camsign cards list")
    return found


def proposals(session: Session, findings: Sequence[Finding]) -> list[tuple[Finding, ClockFix]]:
    """Give what would put right what was found, a row a correction."""
    hung = {d.deployment: d for d in deployments(session)}
    sql = (
        "SELECT shown_from, shown_until, offset_s, drift, basis, estimated, own_s"
        " FROM clock_pieces p WHERE deployment = $hung AND lane = coalesce((SELECT any_value(lane)"
        " FROM clock_pieces l JOIN frame_times t ON t.frame = $frame AND t.basis = l.basis"
        " WHERE l.deployment = $hung AND l.lane <> ''), '') ORDER BY shown_from, offset_s DESC"
    )
    pairs = []
    for finding in findings:
        if finding.deployment in hung:
            frame = finding.ends[0][0] if finding.ends else None
            given = {"hung": finding.deployment, "frame": frame}
            rows = session.con.execute(sql, given).fetchall()
            now = [ClockPiece(*row) for row in rows]
            found = propose(finding, hung[finding.deployment], now)
            pairs += [(finding, correction) for correction in found]
    return pairs


def apply(session: Session, findings: Sequence[Finding]) -> Applied:
    """Note the corrections that findings call for, with their reasons, as one act."""
    hung = {d.deployment: d for d in deployments(session)}
    found = proposals(session, findings)
    edits = [
        SetFields("clock_fix", new_id("c"), correction.fields(hung[finding.deployment or ""]))
        for finding, correction in found
    ]
    if edits:
        cameras = sorted({finding.camera for finding, _ in found})
        session.say(f"fixed the clock of {', '.join(cameras)}", edits)
    return Applied(
        len(edits),
        tuple(sorted({finding.deployment or "" for finding, _ in found})),
        tuple(dict.fromkeys(finding for finding, _ in found)),
    )


def _way(
    session: Session,
    pairs: Sequence[tuple[str, DayOrInstant]],
    utc_offset: str | None,
    follows_local: bool,
    shift_s: float | None,
) -> tuple[str, Any]:
    ways = [bool(pairs), utc_offset is not None, follows_local, shift_s is not None]
    if sum(ways) != 1:
        raise UsageError(
            "a clock is fixed in exactly one way",
            "give --shown with --true, --utc-offset, --follows-local or --shift",
        )
    if utc_offset is not None:
        rule = checked_rule(utc_offset)
        if rule in ("hung", "local"):
            raise UsageError(f"{utc_offset!r} is no offset", "write it like -05:00")
        return "utc_offset", rule
    if follows_local:
        return "local", None
    if shift_s is not None:
        if not abs(shift_s) <= _MOST_SHIFT_S:
            raise UsageError(f"a shift of {shift_s:g} s is longer than 200 years")
        return "shift", shift_s
    return "pairs", _checked_pairs(session, pairs)


def _checked_pairs(session: Session, pairs: Sequence[tuple[str, DayOrInstant]]) -> list[list[str]]:
    known = sorted(
        (_shown_of(session, shown), start_of(true, session.settings.tz)) for shown, true in pairs
    )
    for (a, true_a), (b, true_b) in pairwise(known):
        if a == b and true_a != true_b:
            raise UsageError(f"two true times are given for {a}", "keep one of them")
        run, true = (b - a).total_seconds(), (true_b - true_a).total_seconds()
        if run and abs(true - run) > _MOST_DRIFT * run:
            raise UsageError(
                f"between {a} and {b} no clock drifts so far",
                "a clock that was set anew needs a correction before and one behind, by dates",
            )
    return [[shown.isoformat(), as_text(true)] for shown, true in known]


def _shown_of(session: Session, text: str) -> datetime:
    """What was shown: as written, or in a frame."""
    plain = text.strip().lower()
    if not FRAME.fullmatch(plain):
        when = parse_when(text)
        if when.moment.tzinfo is not None or when.whole_day:
            raise UsageError(f"{text!r} is no clock reading", "write it like 2026-09-01 17:30")
        return when.moment
    rows = session.con.execute(
        "SELECT DISTINCT shown FROM frames WHERE frame = ? OR starts_with(sha256, ?)",
        [plain[:16], plain],
    ).fetchall()
    if len(rows) != 1 or rows[0][0] is None:
        what = "shows no time" if rows else "is not in this logbook"
        raise UsageError(f"the frame {text} {what}", "give what the camera showed as a time")
    return datetime.fromisoformat(rows[0][0])


def _shown(when: DayOrInstant | None, to_end: bool) -> datetime | None:
    if when is None:
        return None
    if when.moment.tzinfo is not None:
        raise UsageError(
            f"{when.text} has an offset, and what a camera showed has none", "leave it out"
        )
    return when.moment + timedelta(days=1 if to_end and when.whole_day else 0)


def _ends(
    session: Session, camera: str, frames: tuple[str | None, str | None]
) -> tuple[str | None, str | None]:
    """Give two pictures of one card of the camera by their ids."""
    found: list[str | None] = []
    cards = set()
    for text in frames:
        if text is None:
            found.append(None)
            continue
        rows = session.con.execute(
            "SELECT frame, card FROM frames JOIN cards_now USING (card)"
            " WHERE camera = ? AND starts_with(sha256, ?)",
            [camera, text.strip().lower()],
        ).fetchall()
        if len(rows) != 1:
            raise UsageError(f"{camera} has no picture {text}", "see: camsign frames")
        found.append(rows[0][0])
        cards.add(rows[0][1])
    if len(cards) > 1:
        raise UsageError("these pictures lie on two cards", "fix each card by itself")
    first, last = found
    if cards and not _count(session, first, last):
        raise UsageError("the pictures run backward on their card", "swap --from and --to")
    return first, last


def _count(session: Session, first: str | None, last: str | None) -> int:
    row = run_sql(session.con, __file__, "placed.sql", first=first, last=last).fetchone()
    return int(row[0]) if row else 0


def _meant(
    session: Session, camera: str, said: str | None, pairs: list[list[str]], spanned: bool
) -> Deployment | None:
    """The deployment of which a correction speaks; None: of a span of the camera's time."""
    hung = deployments(session, camera)
    if said:
        found = [d for d in hung if d.deployment == said]
        if not found:
            raise UsageError(f"{camera} has no deployment {said}", "see: camsign deployments")
        return found[0]
    if spanned:
        return None
    if pairs:
        true = datetime.fromisoformat(pairs[0][1]).astimezone(UTC)
        hung = [d for d in hung if d.hung <= true <= (d.taken_down or true)] or hung
    if len(hung) == 1:
        return hung[0]
    what = f"{camera} hung {len(hung)} times" if hung else f"{camera} never hung anywhere"
    raise UsageError(what, "name the deployment, or from when to when it showed the wrong time")


def _covered(
    session: Session,
    camera: str,
    deployment: Deployment | None,
    span: tuple[datetime | None, datetime | None],
    ends: tuple[str | None, str | None],
) -> int:
    """How many frames of the camera, and of the deployment if one is meant, showed such times; or
    lie between two on their card."""
    if any(ends):
        return _count(session, *ends)
    row = session.con.execute(
        "SELECT count(*) FROM frame_times t JOIN frames f USING (frame) WHERE t.camera = $camera"
        " AND ($start IS NULL OR f.shown >= $start) AND ($stop IS NULL OR f.shown < $stop)"
        " AND ($deployment IS NULL OR t.deployment = $deployment)",
        {
            "camera": camera,
            "start": span[0].isoformat() if span[0] else None,
            "stop": span[1].isoformat() if span[1] else None,
            "deployment": deployment.deployment if deployment and not any(span) else None,
        },
    ).fetchone()
    return int(row[0]) if row else 0
