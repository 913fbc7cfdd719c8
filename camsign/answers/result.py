"""The shape that all answers share: rows, watch, method and reasons, as records, JSON or a table.

An answer is a frozen value. `to_json()` gives the keys that other programs rely on, with every
estimate as `{value, low, high}`; `to_records(flat=True)` gives one plain row a line, with an
estimate as `x`, `x_low`, `x_high`; `to_frame()` gives the same rows as a pandas DataFrame.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, is_dataclass
from datetime import UTC, date, datetime, timedelta, timezone
from math import isfinite
from pathlib import PurePath
from typing import TYPE_CHECKING, Any, ClassVar

from camsign.errors import quoted
from camsign.stats.estimate import Estimate
from camsign.units import counted, lower_first

if TYPE_CHECKING:
    import pandas as pd

ABSENCE = "absence of pictures is not absence of the buck"
THIN = "not enough nights covered"
TOO_EARLY = "not every picture is sorted: if you did the big bucks first, this number runs high"
# Below this a rate says little: its interval spans a factor of ten (common practice, no source).
FEW_NIGHTS = 10
# Where more of the nights than this wait to be sorted, nothing else settles sooner; our choice.
MOST_WAITING = 0.1
# Where more wait than this, nothing is told of the whole; our choice.
MOST_UNSORTED = 0.25


# Metadata of a field that records leave out where it is None, and of one that they never give.
SPARE = {"spare": True}
INNER = {"inner": True}


@dataclass(frozen=True, slots=True)
class Figure:
    """A number as an answer gives it: value and interval, how many it rests on, how computed."""

    value: float | None
    low: float | None
    high: float | None
    n: int | None = field(default=None, metadata=SPARE)
    method: str | None = field(default=None, metadata=SPARE)


def figure(estimate: Estimate, n: int | None = None, method: str | None = None) -> Figure:
    """Give an estimate its `n` and `method`."""
    return Figure(estimate.value, estimate.low, estimate.high, n, method)


@dataclass(frozen=True, slots=True)
class Watch:
    """The effort behind an answer: cameras in reach, nights and days watched, first and last.

    `nights_unsorted`: nights whose pictures nobody has sorted yet; they are not in
    `nights_watched`. `nights_set_aside`: nights watched of which pictures were set aside as likely
    empty without anybody looking. `hung`: the cameras that hung there on those days, where no
    night is covered. `no_card`: cameras of which no card from there is loaded; they cover nothing.
    `doubtful`: those with more nights left out because their pictures' times are in doubt than
    others.
    """

    cameras: tuple[str, ...]
    nights_watched: int
    days_watched: int
    first: date | None
    last: date | None
    nights_unsorted: int = 0
    nights_set_aside: int = 0
    hung: tuple[str, ...] | None = field(default=None, metadata=SPARE)
    no_card: tuple[str, ...] | None = field(default=None, metadata=SPARE)
    doubtful: tuple[str, ...] | None = field(default=None, metadata=SPARE)

    def in_words(self) -> str:
        """Say it in one line."""
        if not self.cameras:
            return "no camera close enough"
        many = counted(len(self.cameras), "camera")
        missing = f" (no card from {listed(self.no_card)})" if self.no_card else ""
        if self.first is None and not self.nights_unsorted and self.hung == ():
            return "no camera was up close enough on those days"
        if self.first is None:
            return f"{many} close enough{missing}, no night covered{self.but_unsorted}"
        nights = counted(self.nights_watched, "night")
        days = f"from {self.first} to {self.last}"
        return f"{many} close enough{missing}, {nights} covered {days}{self.but_unsorted}"

    def with_days(self) -> str:
        """Say it in one line, and the days covered at both ends where they are not as many."""
        if self.days_watched in (0, self.nights_watched):
            return self.in_words()
        return f"{self.in_words()}; {days_in_words(self.days_watched)}"

    def why(self) -> str:
        """Say it as a reason: where it is too little to go by, that first."""
        few = self.nights_watched < FEW_NIGHTS
        return f"{THIN}: {self.in_words()}" if few else self.in_words()

    @property
    def waiting(self) -> str | None:
        """Why neither absence nor a rate can be told, where more than a quarter of the nights wait
        to be sorted: those that count are mostly the ones without a picture. None where enough is
        sorted."""
        if self.nights_unsorted <= MOST_UNSORTED * (self.nights_unsorted + self.nights_watched):
            return None
        return f"{self.unsorted_in_words()}. Sort them first"

    @property
    def but_unsorted(self) -> str:
        """What to add where nobody is said to have come: the nights that are not sorted, if any."""
        waits = self.unsorted_in_words()
        return f"; {waits}" if waits else ""

    @property
    def much_waits(self) -> bool:
        """Whether so much is not sorted that what is may mislead: empty nights are sorted first."""
        return self.nights_unsorted > MOST_WAITING * (self.nights_unsorted + self.nights_watched)

    def unsorted_in_words(self) -> str | None:
        """Say how many nights are not sorted yet, None without any."""
        if not self.nights_unsorted:
            return None
        many = self.nights_unsorted + self.nights_watched
        told = f"{self.nights_unsorted} of {counted(many, 'night')}"
        return not_sorted(told, self.nights_unsorted == 1)


def not_sorted(nights: str, one: bool = False) -> str:
    """Say of so many nights, or `one`, that their pictures are not sorted."""
    waits = "isn't sorted, so it doesn't" if one else "aren't sorted, so they don't"
    return f"{nights} {waits} count yet"


def days_in_words(covered: int) -> str:
    """Say how many days were covered at both ends."""
    return f"{counted(covered, 'day')} covered at dawn and dusk"


def listed(names: Sequence[str]) -> str:
    """Write names as in a sentence: `Twig, Fork and Old Quarrel`."""
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def ageless_came(names: Sequence[str]) -> str:
    """Say of bucks that came and have no age, so that none counts as mature; empty without any."""
    if not names:
        return ""
    have = (
        "he has no age yet: give him one"
        if len(names) == 1
        else ("they have no age yet: give them one")
    )
    return f"{listed(names)} came, but {have}"


def cards_missing(watch: Mapping[str, Watch]) -> str:
    """Say from which cameras no card is loaded where others cover nights; empty without any."""
    spots = {spot: one.no_card for spot, one in watch.items() if one.no_card and one.nights_watched}
    told = [f"{listed(names)} at {spot}" for spot, names in spots.items()]
    return f"no card from {'; '.join(told)}: load it, if you have it" if told else ""


def see_doubtful(cameras: Sequence[str]) -> str:
    """Give the command that lists the pictures of doubtful time, and what clears them."""
    only = f" --camera {quoted(cameras[0])}" if len(cameras) == 1 else ""
    return f"camsign frames{only} --doubtful"


def nothing_watched(watches: Iterable[Watch]) -> str:
    """Say why no night or day counts: pictures to be sorted or of doubtful time, cards to load, no
    camera."""
    watches = list(watches)
    if any(watch.nights_unsorted for watch in watches):
        return "The pictures are in, but not sorted. Sort them first."
    if unsure := sorted({camera for watch in watches for camera in watch.doubtful or ()}):
        return (
            f"The pictures from {listed(unsure)} are in, but their times are in doubt, so their "
            f"nights don't count. See: {see_doubtful(unsure)}."
        )
    cameras = sorted({camera for watch in watches for camera in watch.hung or ()})
    if not cameras:
        return "No camera was up close enough then."
    *most, last = cameras if len(cameras) < 7 else [*cameras[:5], f"{len(cameras) - 5} more"]
    named = f"{', '.join(most)} or {last}" if most else last
    return f"No picture from {named} covers that time: load the card, if you have it."


def too_little(watches: Iterable[Watch]) -> str:
    """Say after `Can't tell:` why: nights that were covered, but can't count, are not too few."""
    watches = list(watches)
    if not watches:
        return (
            "no area is drawn yet, so there's nothing to count. Draw each bedding area on the map."
        )
    why = nothing_watched(watches)
    if any(watch.nights_unsorted or watch.doubtful for watch in watches):
        return lower_first(why)
    return f"{THIN}. {why}"


class Answer:
    """What all answers can be turned into. A subclass is a frozen dataclass.

    `TABLE` names the field whose rows are the answer's table, `ROW` is their type. `said` is the
    answer in a sentence, which its JSON holds beside all fields.
    """

    __slots__ = ()
    TABLE: ClassVar[str] = "rows"
    ROW: ClassVar[type] = object
    # Fields of the whole answer that each flat row repeats, so that it stands on its own.
    REPEATED: ClassVar[tuple[str, ...]] = ()

    if TYPE_CHECKING:
        method: str
        why: tuple[str, ...]

        @property
        def said(self) -> str:
            """Say the answer in a sentence."""

    def to_records(self, flat: bool = False) -> list[dict[str, Any]]:
        """Give the table's rows as dicts; `flat`: every cell a number, text, day or time."""
        head = {name: getattr(self, name) for name in self.REPEATED}
        rows: Iterable[Any] = getattr(self, self.TABLE)
        return [(flatten(head) | flatten(row)) if flat else record(row) for row in rows]

    def to_json(self) -> dict[str, Any]:
        """Give what `--json` prints: lists, dicts, text, numbers, times as ISO 8601 text."""
        fields: dict[str, Any] = plain(self)
        return {"said": self.said} | fields

    @classmethod
    def columns(cls) -> tuple[str, ...]:
        """Name the columns of the flat rows, also where there is none."""
        return tuple(dict.fromkeys([*cls.REPEATED, *columns_of(cls.ROW)]))

    def to_frame(self, tz: str = "UTC") -> pd.DataFrame:
        """Give the flat rows as a DataFrame; dtypes as in `camsign.answers.framed`.

        Without a row it has every column that a row may have. Its `attrs` hold `method`, `why` and
        `watch`, and as `answer` all that is not in the rows.

        Args:
            tz: the zone of the place, for times that are not in UTC.
        """
        from camsign.answers.framed import framed, kinds_of

        rows = self.to_records(flat=True)
        kinds = kinds_of(self.ROW)
        if self.REPEATED:
            own = kinds_of(type(self))
            kinds |= {name: own[name] for name in self.REPEATED}
        frame = framed(rows, kinds, tz, None if rows else [*self.REPEATED, *kinds_of(self.ROW)])
        frame.attrs = {k: plain(getattr(self, k)) for k in ("method", "why", "watch")}
        frame.attrs["answer"] = {k: v for k, v in self.to_json().items() if k != self.TABLE}
        return frame


def columns_of(kind: type) -> list[str]:
    """Name the columns of flat rows of a dataclass."""
    found: list[str] = []
    for f in fields(kind):
        if not f.metadata.get("spare"):
            spread = str(f.type).startswith(("Figure", "Estimate"))
            found += [f.name, f"{f.name}_low", f"{f.name}_high"] if spread else [f.name]
    return found


def frame_of(rows: Sequence[Any], kind: type, tz: str = "UTC") -> pd.DataFrame:
    """Give dataclasses of one kind as a DataFrame of flat rows, as `Answer.to_frame` does."""
    from camsign.answers.framed import framed, kinds_of

    flat = [flatten(row) for row in rows]
    kinds = kinds_of(kind)
    return framed(flat, kinds, tz, None if flat else kinds)


def plain(value: Any) -> Any:
    """Turn any value into what JSON knows: times to text (naive ones are UTC), NaN to None."""
    if isinstance(value, datetime):
        return (value if value.tzinfo else value.replace(tzinfo=UTC)).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return value if isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(v) for v in value]
    if isinstance(value, PurePath):
        return str(value)
    return plain(record(value)) if is_dataclass(value) else value


def flatten(row: Any) -> dict[str, Any]:
    """Turn one row into a dict of single cells; lists are joined by "; ", mappings are JSON."""
    flat: dict[str, Any] = {}
    for name, value in row.items() if isinstance(row, dict) else _fields(row):
        if isinstance(value, Estimate | Figure):
            flat |= {name if k == "value" else f"{name}_{k}": v for k, v in record(value).items()}
        elif isinstance(value, list | tuple):
            flat[name] = "; ".join(_in_words(v) for v in value)
        elif is_dataclass(value):
            flat |= {f"{name}_{k}": v for k, v in flatten(value).items()}
        elif isinstance(value, Mapping):
            flat[name] = json.dumps(plain(value), ensure_ascii=False)
        else:
            flat[name] = value
    return flat


def record(value: Any) -> Any:
    """Turn dataclasses into dicts, also within it, and tuples into lists; times stay times."""
    if is_dataclass(value):
        return {name: record(v) for name, v in _fields(value)}
    if isinstance(value, list | tuple):
        return [record(v) for v in value]
    return value


def _fields(row: Any) -> list[tuple[str, Any]]:
    given = [(f, getattr(row, f.name)) for f in fields(row) if not f.metadata.get("inner")]
    return [(f.name, v) for f, v in given if v is not None or not f.metadata.get("spare")]


def _in_words(value: Any) -> str:
    if not is_dataclass(value):
        return str(value)
    cells = (x for x in flatten(value).values() if x is not None)
    return " ".join(f"{x:.4g}" if isinstance(x, float) else str(x) for x in cells)


def number(x: float) -> float | None:
    """Give a number of an array as Python's own, None for NaN."""
    return float(x) if isfinite(x) else None


def local_of(utc: datetime, local: datetime) -> datetime:
    """Give the wall-clock time of the place with its offset; both as the database holds them."""
    offset = timedelta(minutes=round((local - utc).total_seconds() / 60))
    return local.replace(tzinfo=timezone(offset))


def reasons(*given: str | Sequence[str] | int | None) -> tuple[str, ...]:
    """Gather reasons in order, texts and lists of texts, leaving out what does not hold.

    That is whatever is false, so that `n and f"{n} of them"` is a reason where there are some.
    """
    gathered: list[str] = []
    for one in given:
        if isinstance(one, str):
            gathered.append(one)
        elif one and not isinstance(one, int):
            gathered.extend(one)
    return tuple(reason for reason in gathered if reason)
