"""Which frames a person means: by their hex digits, by burst, or by camera and time.

People see 12 digits of a frame's SHA-256; 12 to 64 are understood if one frame has them.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from camsign.errors import UsageError
from camsign.logbook.moments import end_of, start_of, stored
from camsign.logbook.naming import known_camera
from camsign.logbook.session import Session
from camsign.units import DayOrInstant, counted

_HEX = re.compile(r"[0-9a-f]{12,64}")


@dataclass(frozen=True, slots=True)
class Skipped:
    """Something that was not taken, and why."""

    frame: str
    why: str


@dataclass(frozen=True, slots=True)
class Chosen:
    """The frames (16 hex digits each, no two the same) that were meant, and what was not found."""

    frames: list[str]
    skipped: list[Skipped]


@dataclass(frozen=True, slots=True)
class Which:
    """Which frames a person means: one by one, or a camera's between two times, or a card's.

    `burst`: with all others of the bursts of those named. Nothing named means all of them.
    """

    frames: Sequence[str] = ()
    camera: str | None = None
    start: DayOrInstant | None = None
    stop: DayOrInstant | None = None
    card: str | None = None
    burst: bool = False

    @property
    def named(self) -> bool:
        """Whether anything is named."""
        return bool(self.frames or self.camera or self.card)

    def check(self) -> None:
        """Refuse what would be ignored.

        Raises:
            UsageError: more than one way of naming, or an option that does not go with the way.
        """
        if sum([bool(self.frames), bool(self.camera), bool(self.card)]) > 1:
            raise UsageError("frames are named one by one, by --camera or by --card", "use one way")
        if (self.start or self.stop) and not self.camera:
            raise UsageError("--from and --to need --camera", "name a camera")
        if self.burst and not self.frames:
            raise UsageError("--burst goes with frames named one by one", "leave it out")


def find(session: Session, which: Which) -> Chosen | None:
    """Find the frames that are meant one by one or by camera; None where no frame is named so.

    Raises:
        UsageError: as `Which.check`, or no frame of such a camera in that time.
    """
    which.check()
    if which.camera:
        return between(session, which.camera, which.start, which.stop)
    if not which.frames:
        return None
    chosen = by_ids(session, which.frames)
    if not which.burst:
        return chosen
    return Chosen(of_bursts(session, chosen.frames), chosen.skipped)


def by_ids(session: Session, said: Iterable[str]) -> Chosen:
    """Find frames by 12 or more of their hex digits; what names none or several is skipped."""
    found, skipped = look_up(session, said)
    return Chosen(list(dict.fromkeys(found.values())), skipped)


def one(session: Session, said: str) -> str:
    """Give the one frame that a text names. Raises UsageError if it names none or several."""
    chosen = by_ids(session, [said])
    if not chosen.frames:
        raise UsageError(f"{said}: {chosen.skipped[0].why}")
    return chosen.frames[0]


def look_up(session: Session, said: Iterable[str]) -> tuple[dict[str, str], list[Skipped]]:
    """Give the frame of each text that names exactly one, and why the others do not."""
    texts = list(dict.fromkeys(said))
    wanted = {t: t.strip().lower() for t in texts}
    good = [w for w in wanted.values() if _HEX.fullmatch(w)]
    rows = session.con.execute(
        "SELECT said, f.frame FROM (SELECT DISTINCT unnest(?::VARCHAR[]) AS said) s JOIN frames f"
        " ON left(f.frame, 12) = left(s.said, 12) AND starts_with(f.sha256, s.said)",
        [good],
    ).fetchall()
    hits = Counter(text for text, _ in rows)
    frames = dict(rows)
    skipped = [Skipped(t, _why(w, hits[w])) for t, w in wanted.items() if hits[w] != 1]
    return {t: frames[w] for t, w in wanted.items() if hits[w] == 1}, skipped


def of_bursts(session: Session, frames: Sequence[str]) -> list[str]:
    """Add to frames (16 digits) all others of their bursts, in order of time."""
    rows = session.con.execute(
        "SELECT frame FROM frame_times WHERE burst IN ("
        "SELECT burst FROM frame_times WHERE list_contains(?::VARCHAR[], frame)"
        " AND burst IS NOT NULL) ORDER BY utc, frame",
        [list(frames)],
    ).fetchall()
    return list(dict.fromkeys([*(row[0] for row in rows), *frames]))


def waiting(session: Session, chosen: Chosen) -> Chosen:
    """Keep of some frames those that look empty, wait for a look, and are not tagged yet.

    Raises:
        UsageError: none of them does.
    """
    rows = session.con.execute(
        "SELECT frame FROM empty_scores WHERE look_first AND list_contains(?::VARCHAR[], frame)"
        " AND frame NOT IN (SELECT frame FROM tags)",
        [chosen.frames],
    ).fetchall()
    held = {frame for (frame,) in rows}
    if not held:
        raise UsageError("none of these waits for your check", "see camsign frames --look-first")
    return Chosen([frame for frame in chosen.frames if frame in held], chosen.skipped)


def between(
    session: Session,
    camera: str,
    start: DayOrInstant | None = None,
    stop: DayOrInstant | None = None,
) -> Chosen:
    """Find a camera's frames from `start` to `stop`, both included, by right time.

    They are found now; frames taken in later are not meant.

    Raises:
        UsageError: no frame of such a camera, or none in that time.
    """
    name, tz = known_camera(session.con, camera), session.settings.tz
    rows = session.con.execute(
        "SELECT frame FROM frame_times WHERE camera = $camera"
        " AND ($start IS NULL OR utc >= $start) AND ($stop IS NULL OR utc <= $stop)"
        " ORDER BY utc, frame",
        {
            "camera": name,
            "start": stored(start_of(start, tz)) if start else None,
            "stop": stored(end_of(stop, tz)) if stop else None,
        },
    ).fetchall()
    if rows:
        return Chosen([row[0] for row in rows], [])
    many = session.con.execute("SELECT count(*) FROM frame_times WHERE camera = ?", [name])
    if (row := many.fetchone()) and row[0]:
        raise UsageError(f"{name} has {counted(row[0], 'picture')}, but none in that time")
    raise UsageError(f"there is no frame of {name}", "see the cameras with: camsign cards list")


def may_name_a_frame(said: str) -> bool:
    """Say whether a text has the form of a frame's id, or of its beginning."""
    return bool(_HEX.fullmatch(said.strip().lower()))


def _why(text: str, hits: int) -> str:
    if hits > 1:
        return f"{hits} pictures begin with these digits: give more of them"
    if _HEX.fullmatch(text):
        return "no such picture in this logbook"
    return "that isn't a picture's id; list them with: camsign frames"
