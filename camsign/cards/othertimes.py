"""Clock readings from elsewhere, for files whose own metadata holds none.

In this order: the clip's container, the file's name by the patterns of logbook.toml, the camera's
own notes as exiftool reads them, and for a clip the file's own stamp. Each is stated as a doubt.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import replace
from typing import BinaryIO

from camsign.cards.clips import container_time
from camsign.cards.facts import Described
from camsign.errors import UsageError
from camsign.formats.kinds import CLIPS
from camsign.formats.shown import EARLIEST_LIKELY_YEAR, ShownTime, read_shown
from camsign.logbook.records import FrameFacts

PATTERNS = (
    r"(?<!\d)(?P<year>20\d\d)[-_.]?(?P<month>\d\d)[-_.]?(?P<day>\d\d)(?:[-_.T ]| at )?"
    r"(?P<hour>\d\d)[-_.:h]?(?P<minute>\d\d)[-_.:m]?(?P<second>\d\d)(?!\d{4})",
)
"""What is tried unless logbook.toml has `[pictures] time_in_name = [...]`."""

_NEEDED = {"year", "month", "day", "hour", "minute"}
_EXIFTOOL_S = 600


def compiled(said: Sequence[str] = ()) -> tuple[re.Pattern[str], ...]:
    """Give the patterns of logbook.toml for times in file names, or the built-in ones.

    Raises:
        UsageError: one cannot be read, or lacks a group.
    """
    patterns = []
    for text in said or PATTERNS:
        try:
            pattern = re.compile(text)
        except re.error as e:
            raise _bad_pattern(text, str(e)) from e
        if missing := sorted(_NEEDED - set(pattern.groupindex)):
            raise _bad_pattern(text, f"it names no {', '.join(missing)}")
        patterns.append(pattern)
    return tuple(patterns)


def _bad_pattern(text: object, why: str) -> UsageError:
    return UsageError(
        f"the pattern {text!r} for times in file names does not fit: {why}",
        "mend time_in_name in logbook.toml; its groups are year, month, day, hour, minute, second",
    )


def from_name(name: str, patterns: Sequence[re.Pattern[str]]) -> ShownTime | None:
    """Give the clock reading that a file's name holds; None if it holds none that can be."""
    for pattern in patterns:
        for match in pattern.finditer(name):
            parts = {k: int(v) for k, v in match.groupdict().items() if v and v.isdigit()}
            if parts.get("year", 0) < EARLIEST_LIKELY_YEAR:
                continue
            day = (parts["year"], parts.get("month", 0), parts.get("day", 0))
            clock = (parts.get("hour", 0), parts.get("minute", 0), parts.get("second", 0))
            try:
                return ShownTime(*day, *clock)
            except UsageError:
                continue
    return None


def timed(
    what: Described,
    name: str,
    patterns: Sequence[re.Pattern[str]],
    clip: BinaryIO | None,
    size: int,
) -> Described:
    """Give the description with a clock reading from its container or name, if it has none yet.

    `clip` is the clip itself, to be read anywhere, and `size` its length [bytes].
    """
    if what.exif.shown is not None:
        return what
    if clip is not None and what.kind in CLIPS:
        shown, raw = container_time(clip, what.kind, size)
        if shown is not None:
            doubt = "its time is the container's, which may be the clock's or UTC"
            return _with_time(what, shown, "container", raw, doubt)
    shown = from_name(name, patterns)
    if shown is not None:
        return _with_time(what, shown, "name", name, "its time is taken from the file's name")
    return what


def _with_time(what: Described, shown: ShownTime, source: str, raw: str, doubt: str) -> Described:
    exif = replace(what.exif, shown=shown, shown_from=source, shown_raw=raw)
    return replace(what, exif=exif, doubts=(*what.doubts, doubt))


def from_stamp(row: FrameFacts) -> FrameFacts:
    """Give a clip's row with the file's own stamp as its time, if it has no better one."""
    if row.shown is not None or row.kind not in CLIPS or row.file_time is None:
        return row
    doubt = "its time is the file's own stamp, which copying may have changed"
    return replace(
        row,
        shown=row.file_time,
        shown_from="file",
        shown_raw=row.file_time,
        doubts=(*row.doubts, doubt),
    )


def exiftool() -> str | None:
    """Give exiftool's path, if it is installed."""
    return shutil.which("exiftool")


def ask_exiftool(program: str, paths: Sequence[str]) -> dict[str, ShownTime]:
    """Ask exiftool, once for all, for the clock readings in the cameras' own notes.

    Args:
        program: its path.
        paths: the files, in the logbook.

    Returns:
        The readings by path, of those files for which it knows one. None if it fails.
    """
    words = [program, "-j", "-q", "-m", "-MakerNotes:DateTimeOriginal", "-MakerNotes:CreateDate"]
    words += ["-charset", "filename=utf8", "-@", "-"]
    try:
        done = subprocess.run(
            words, input="\n".join(paths).encode(), capture_output=True, timeout=_EXIFTOOL_S
        )
        answers = json.loads(done.stdout or b"[]")
    except (OSError, ValueError, subprocess.SubprocessError):
        return {}
    found = {}
    for answer in answers:
        for tag in ("DateTimeOriginal", "CreateDate"):
            reading = read_shown(str(answer.get(tag, "")))
            if reading.shown is not None:
                found[str(answer["SourceFile"])] = reading.shown
                break
    return found


def noted(row: FrameFacts, shown: ShownTime) -> FrameFacts:
    """Give the row with a clock reading from the camera's own notes."""
    doubt = "its time stands only in the camera's own notes (read by exiftool)"
    return replace(
        row,
        shown=shown.iso(),
        shown_from="notes",
        shown_raw=shown.iso(),
        doubts=(*row.doubts, doubt),
    )
