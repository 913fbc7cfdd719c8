"""What a camera's clock showed: a naive reading with its own type, never taken for an instant.

A camera knows no zone and is often set wrong, so this is deliberately no `datetime`, and makes
none: only the clock room, which knows the deployment's rule, turns a reading into UTC.
"""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from datetime import date, timedelta

from camsign.errors import UsageError

EARLIEST_LIKELY_YEAR = 2005
"""Digital trail cameras spread after about this year: common practice, no source."""


_SPELLING = re.compile(
    r"""(?P<year>\d{4})(?P<sep>[:/\-.])(?P<month>\d{1,2})(?P=sep)(?P<day>\d{1,2})
        (?:[ T]+(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2})(?P<fraction>[.,]\d+)?)?
           \s*(?P<half>[AaPp]\.?[Mm]\.?)?
           \s*(?P<zone>Z|[+-]\d{2}:?\d{2})?)?""",
    re.ASCII | re.VERBOSE,
)

_UNSET = re.compile(r"[\s:/\-.TZ0]*", re.ASCII)
_SHORT_YEAR = re.compile(r"\d{1,2}[:/\-.]\d{1,2}[:/\-.]\d{1,4}\b.*", re.ASCII)
_OFFSET = re.compile(r"([+-])(\d{2}):?(\d{2})", re.ASCII)


@dataclass(frozen=True, slots=True)
class ShownTime:
    """What a camera's clock showed: no zone, no promise that it was right.

    `fraction_s` [s] is 0 up to, but not, 1, kept to the microsecond; None when the camera wrote
    none. Texts from `iso` sort in the order of the clock.

    Raises UsageError: the calendar has no such day, or the day no such time.
    """

    year: int
    month: int
    day: int
    hour: int
    minute: int
    second: int
    fraction_s: float | None = None

    def __post_init__(self) -> None:
        if why := self._impossible():
            raise UsageError(why, "write it as 2024-11-09T07:31:46")
        if self.fraction_s is not None:
            kept = min(round(self.fraction_s * 1_000_000), 999_999) / 1_000_000
            object.__setattr__(self, "fraction_s", kept)

    def _impossible(self) -> str:
        if not 1 <= self.year <= 9999 or not 1 <= self.month <= 12:
            return f"there is no month {self.month} of {self.year}"
        if not 1 <= self.day <= calendar.monthrange(self.year, self.month)[1]:
            return f"{self.year:04d}-{self.month:02d} has no day {self.day}"
        if not (0 <= self.hour <= 23 and 0 <= self.minute <= 59 and 0 <= self.second <= 59):
            return f"there is no time {self.hour:02d}:{self.minute:02d}:{self.second:02d}"
        if self.fraction_s is not None and not 0 <= self.fraction_s < 1:
            return f"{self.fraction_s} is no part of a second"
        return ""

    def iso(self) -> str:
        """YYYY-MM-DDTHH:MM:SS, with .fff or up to .ffffff where the camera wrote a fraction."""
        text = f"{self.year:04d}-{self.month:02d}-{self.day:02d}"
        text += f"T{self.hour:02d}:{self.minute:02d}:{self.second:02d}"
        if self.fraction_s is None:
            return text
        digits = f"{self.fraction_s:.6f}"[2:]
        return f"{text}.{digits[:3]}{digits[3:].rstrip('0')}"

    def doubt(self, today: date) -> str:
        """Why this reading can hardly be right, as seen on `today` (a local date); "" if it can."""
        if self.year < EARLIEST_LIKELY_YEAR:
            return f"the clock showed the year {self.year}; it was probably never set"
        if self.iso()[:10] > (today + timedelta(days=1)).isoformat():
            return f"the clock showed {self.iso()[:10]}, which is still to come"
        return ""


@dataclass(frozen=True, slots=True)
class ShownReading:
    """What a written time was taken for.

    `doubt` is one line, "" when the text is the standard's own or as plain. `offset_minutes`
    [min east of UTC] only where the text itself ends in one, such as +02:00.
    """

    shown: ShownTime | None
    doubt: str = ""
    offset_minutes: int | None = None


def read_shown(text: str) -> ShownReading:
    """Read a time as cameras spell it, year first; refuse with a reason what could mean two things.

    The standard's spelling is YYYY:MM:DD HH:MM:SS (CIPA DC-008, DateTimeOriginal). Taken as well:
    dashes, slashes or dots in the date, an ISO T, decimals. Taken with a doubt: AM and PM, no
    seconds, second 60, a zone at the end. Refused: a date alone, hour 24 (this midnight or the
    next), years of two digits, days that the calendar lacks, anything else.
    """
    plain = text.replace("\x00", " ").strip()
    if _UNSET.fullmatch(plain):
        return ShownReading(None, "its time is blank or zero: the clock was not set")
    match = _SPELLING.fullmatch(plain)
    if match is None:
        why = "it may mean several dates" if _SHORT_YEAR.fullmatch(plain) else "it is no time"
        return ShownReading(None, f"its time reads {plain[:40]!r}: {why}")
    if match["hour"] is None:
        return ShownReading(None, f"its time reads {plain!r}: a day without a time of day")
    return _from_match(match, plain)


def read_offset(text: str) -> int | None:
    """An EXIF offset such as `-05:00` [min east of UTC]; None when blank or impossible.

    Source: OffsetTime and its siblings, Exif 2.31 (CIPA DC-008-2016). Zones reach from -12:00 to
    +14:00.
    """
    plain = text.replace("\x00", " ").strip()
    if plain == "Z":
        return 0
    match = _OFFSET.fullmatch(plain)
    if match is None or int(match[3]) > 59:
        return None
    minutes = (int(match[2]) * 60 + int(match[3])) * (-1 if match[1] == "-" else 1)
    return minutes if -12 * 60 <= minutes <= 14 * 60 else None


def _from_match(match: re.Match[str], plain: str) -> ShownReading:
    hour, doubts = _hour_of_day(int(match["hour"]), match["half"], plain)
    if hour is None:
        return ShownReading(None, doubts[0])
    second = int(match["second"] or 0)
    if match["second"] is None:
        doubts.append(f"its time reads {plain!r}, without seconds; taken as :00")
    if second == 60:
        second = 59
        doubts.append(f"its time reads {plain!r}; second 60 taken as 59")
    fraction = float(f"0.{match['fraction'][1:]}") if match["fraction"] else None
    try:
        day = (int(match["year"]), int(match["month"]), int(match["day"]))
        shown = ShownTime(*day, hour, int(match["minute"]), second, fraction)
    except UsageError as err:
        return ShownReading(None, f"its time reads {plain!r}: {err.what}")
    offset = _zone(match["zone"], plain, doubts)
    return ShownReading(shown, "; ".join(doubts), offset)


def _hour_of_day(hour: int, half: str | None, plain: str) -> tuple[int | None, list[str]]:
    if hour == 24:
        return None, [f"its time reads {plain!r}: hour 24 may be this midnight or the next"]
    if half is None:
        return hour, []
    afternoon = half[0] in "Pp"
    if (afternoon and hour == 0) or (not afternoon and hour > 12):
        return None, [f"its time reads {plain!r}: the hour contradicts its AM or PM"]
    full = hour % 12 + (12 if afternoon else 0) if hour <= 12 else hour
    return full, [f"its time reads {plain!r}; hour taken as {full:02d}"]


def _zone(zone: str | None, plain: str, doubts: list[str]) -> int | None:
    if zone is None:
        return None
    if zone == "Z":
        # Firmware writes a Z after local time as readily as after UTC, so it settles nothing.
        doubts.append(f"its time reads {plain!r}; the Z is not trusted to mean UTC")
        return None
    offset = read_offset(zone)
    doubts.append(f"its time reads {plain!r}; the offset is taken from its end")
    return offset
