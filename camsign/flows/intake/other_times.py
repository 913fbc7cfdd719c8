"""Clock readings from elsewhere, for files whose own metadata holds none.

In this order: the small picture that goes with a clip, the clip's container, a comment or
description in the picture, the file's name by the patterns of logbook.toml, the camera's own notes
as exiftool reads them, the strip printed in the picture, and for a clip the file's own stamp. All
but the first are stated as a doubt.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import BinaryIO

from camsign.errors import UsageError
from camsign.flows.intake.read import cells
from camsign.formats.clips import ContainerTime, container_time
from camsign.formats.exif import PictureFacts, read_exif
from camsign.formats.kinds import CLIPS, Kind
from camsign.formats.patterns import checked
from camsign.formats.shown import EARLIEST_LIKELY_YEAR, ShownTime, read_shown
from camsign.formats.written import MONTH_NAMED, read_written
from camsign.logbook.records import FrameFacts
from camsign.logbook.settings import Settings
from camsign.units import MONTHS
from camsign.zones import zone

_DAY = r"(?<!\d)(?P<year>20\d\d)[-_.]?(?P<month>\d\d)[-_.]?(?P<day>\d\d)"
_MONTH_FIRST = rf"(?<![a-z]){MONTH_NAMED}[ _.-]?(?P<day>\d\d?),?[ _.-](?P<year>20\d\d)(?!\d)"
_DAY_FIRST = rf"(?<!\d)(?P<day>\d\d?)[ _.-]?{MONTH_NAMED},?[ _.-]?(?P<year>20\d\d)(?!\d)"
_CLOCK = r"(?P<hour>\d\d)[-_.:h]?(?P<minute>\d\d)[-_.:m]?(?P<second>\d\d)(?!\d{4})"
_SHORT_CLOCK = r"(?P<hour>\d\d?)[-_.:h](?P<minute>\d\d)(?:[-_.:m](?P<second>\d\d))?(?!\d)"
_HALF = r"(?:[\s_-]?(?P<half>[AaPp])\.?[Mm]\b)?"
_BETWEEN = r"(?:[-_.T ]|,? at |, )"

PATTERNS = (
    rf"(?P<utc>PXL)_{_DAY}_{_CLOCK}",
    rf"{_DAY}{_BETWEEN}?{_CLOCK}{_HALF}",
    *(rf"(?i){day}{_BETWEEN}{_SHORT_CLOCK}{_HALF}" for day in (_DAY, _MONTH_FIRST, _DAY_FIRST)),
    r"(?<!\d)(?P<epoch_ms>1\d{12})(?!\d)",
)
"""What is tried unless logbook.toml has `[pictures] time_in_name = [...]`, in this order.

The group `half` is the A or P of AM and PM, `name` a month's English name. A reading with the group
`utc` is in UTC (phones write PXL_ names so: from memory), and so are milliseconds since 1970. Days
whose order or century is not plain, such as 04-11-2023 or 231104, are not guessed.
"""

_UNPLAIN = re.compile(r"(?<!\d)\d\d?[-_.]\d\d?[-_.](?:20)?\d\d[-_.T ]+\d\d?[-_.:h]?\d\d[^/]*$")
_NEEDED = {"year", "day", "hour", "minute"}
_EXIFTOOL_S = 600
_NAME = "its time is taken from the file's name"
_PRINTED = "its time is read off the strip printed in the picture"
FILE_STAMP = "file"
PRINTED, PRINTED_ALONE = "strip", "strip alone"
"""Where a time was read that fits the order of the card's files, and one that nothing bears out."""
_COMMENT = "its time is only in its comment"
_CONTAINER = "its time is the container's, which may be the clock's or UTC"
_STAMP = "its only time is the file's own stamp, which counts once somebody confirms it"
_NOTES = "its time is only in the camera's own notes (read by exiftool)"


def compiled(said: Sequence[str] = ()) -> tuple[re.Pattern[str], ...]:
    """Give the patterns of logbook.toml for times in file names, or the built-in ones.

    Raises:
        UsageError: one cannot be read, or lacks a group.
    """
    patterns = []
    for text in said or PATTERNS:
        try:
            pattern = checked(str(text))
        except ValueError as e:
            raise _bad_pattern(text, str(e)) from e
        groups = set(pattern.groupindex)
        needed = _NEEDED if "name" in groups else _NEEDED | {"month"}
        if "epoch_ms" not in groups and (missing := sorted(needed - groups)):
            raise _bad_pattern(text, f"it names no {', '.join(missing)}")
        patterns.append(pattern)
    return tuple(patterns)


def _bad_pattern(text: object, why: str) -> UsageError:
    return UsageError(
        f"the pattern {text!r} for times in file names does not fit: {why}",
        "mend time_in_name in logbook.toml; its groups are year, month, day, hour, minute, second",
    )


def from_name(name: str, patterns: Sequence[re.Pattern[str]]) -> tuple[ShownTime | None, bool]:
    """Give the reading that a file's name holds, None if it holds none, and if it is in UTC."""
    for pattern in patterns:
        for match in pattern.finditer(name):
            groups = match.groupdict()
            shown = _epoch(groups["epoch_ms"]) if "epoch_ms" in groups else _written(groups)
            if shown is not None and shown.year >= EARLIEST_LIKELY_YEAR:
                return shown, bool(groups.get("utc") or groups.get("epoch_ms"))
    return None, False


def unplain_day(card_paths: Iterable[str]) -> str:
    """Give what to do where a name holds a date that may begin with its month or its day."""
    for path in card_paths:
        if _UNPLAIN.search(path):
            return (
                f"{path.rpartition('/')[2]} holds a date, but we can't tell its day from its month;"
                " write which comes first as time_in_name in logbook.toml (docs/cards.md shows how)"
            )
    return ""


def _written(groups: Mapping[str, str | None]) -> ShownTime | None:
    parts = {k: int(v) for k, v in groups.items() if v and v.isdigit()}
    if word := groups.get("name"):
        parts["month"] = MONTHS.index(word.lower()) + 1
    hour, half = parts.get("hour", 0), (groups.get("half") or "").lower()
    if half and (not hour or (hour > 12 and half == "a")):
        return None  # it contradicts itself
    if half and hour <= 12:
        hour = hour % 12 + (12 if half == "p" else 0)
    year = parts.get("year", 0)
    day = (year + 2000 if year < 100 else year, parts.get("month", 0), parts.get("day", 0))
    try:
        return ShownTime(*day, hour, parts.get("minute", 0), parts.get("second", 0))
    except UsageError:
        return None


def _epoch(text: str | None) -> ShownTime | None:
    return ShownTime(*datetime.fromtimestamp(int(text or 0) / 1000, UTC).timetuple()[:6])


@dataclass(frozen=True, slots=True)
class OtherTimes:
    """Where else than in its own metadata a file's time is looked for.

    `patterns` find it in names; a reading in UTC is written down as the zone `tz` has it; no right
    clock shows a day after `today`.
    """

    patterns: Sequence[re.Pattern[str]]
    tz: str
    today: date

    @classmethod
    def of(cls, settings: Settings) -> OtherTimes:
        """Give where to look in this logbook, as of today.

        Raises:
            UsageError: a pattern of logbook.toml cannot be read, or lacks a group.
        """
        return cls(compiled(settings.time_in_name), settings.tz, datetime.now(UTC).date())

    def fill(self, row: FrameFacts, clip: BinaryIO | None = None, small: bytes = b"") -> FrameFacts:
        """Give the row with a time from elsewhere.

        Args:
            row: of a picture or clip without a time.
            clip: the clip itself, to be read anywhere.
            small: the picture that the camera wrote to go with it (.THM).
        """
        if row.kind in CLIPS:
            exif = read_exif(small) if small else PictureFacts()
            if exif.shown is not None:
                late = exif.shown.doubt(self.today)
                doubts = (*row.doubts, *exif.doubts, *([late] if late else []))
                facts = cells(exif) | {"shown_from": "THM", "orientation": 1, "doubts": doubts}
                return replace(row, **facts)
            found = container_time(clip, Kind(row.kind), row.bytes) if clip else ContainerTime()
            row = replace(row, lat=found.lat, lon=found.lon, altitude_m=found.altitude_m)
            if found.shown is not None:
                stated = found.offset_minutes is not None
                source = "creationdate" if stated else "container"
                doubt = "" if stated else _CONTAINER
                return self._timed(row, found.shown, source, found.raw, doubt, found.offset_minutes)
        for words in (row.comment, row.description):
            if (shown := read_written(words or "")) is not None:
                return self._timed(row, shown, "comment", words or "", _COMMENT, None)
        name, offset = row.card_path.rpartition("/")[2], None
        shown, in_utc = from_name(name, self.patterns)
        if shown is None:
            if row.kind not in CLIPS or row.file_time is None:
                return row
            doubts, at = (*row.doubts, _STAMP), row.file_time
            return replace(row, shown=at, shown_from=FILE_STAMP, shown_raw=at, doubts=doubts)
        if in_utc:
            shown, offset = _local(shown, self.tz)
        return self._timed(row, shown, "name", name, _NAME, offset)

    def printed(self, row: FrameFacts, words: str) -> FrameFacts:
        """Give the row with the time that the words on its strip say, if they say one."""
        shown = read_written(words)
        if shown is None or shown.doubt(self.today):
            return row
        row = replace(row, doubts=tuple(d for d in row.doubts if d != _STAMP))
        return self._timed(row, shown, PRINTED_ALONE, words, _PRINTED, None)

    def _timed(
        self,
        row: FrameFacts,
        shown: ShownTime,
        source: str,
        raw: str,
        doubt: str,
        offset: int | None,
    ) -> FrameFacts:
        late = shown.doubt(self.today)
        return replace(
            row,
            shown=shown.iso(),
            shown_from=source,
            shown_raw=raw or None,
            offset_minutes=offset,
            doubts=(*row.doubts, *(d for d in (doubt, late) if d)),
        )


def _local(shown: ShownTime, tz: str) -> tuple[ShownTime, int]:
    """A reading in UTC as the zone's wall clock shows it, with the zone's offset [min]."""
    at = datetime.fromisoformat(shown.iso()).replace(tzinfo=UTC).astimezone(zone(tz))
    offset = round((at.utcoffset() or timedelta()).total_seconds() / 60)
    return ShownTime(*at.timetuple()[:6]), offset


def borne_out(row: FrameFacts) -> FrameFacts:
    """Give a row whose printed time fits the order of the card's files."""
    doubts = tuple(d for d in row.doubts if d != _PRINTED)
    return replace(row, shown_from=PRINTED, doubts=doubts)


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
    at, doubts = shown.iso(), (*row.doubts, _NOTES)
    return replace(row, shown=at, shown_from="notes", shown_raw=at, doubts=doubts)
