"""The sorting page's lists: which strips in which order, kept while they are worked through.

An order that was shown stays as it is while tags are made, so that nothing moves under the hand; it
is made anew when the page asks for a new list.
"""

from __future__ import annotations

import secrets
import threading
from collections import OrderedDict
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from typing import Any

from camsign.answers.result import local_of
from camsign.logbook.edits import Subject
from camsign.logbook.session import Session
from camsign.page.rows import rows, run
from camsign.tags.tagging import in_words

_KEPT = 12
MOST_STRIPS = 100
"""At most so many strips are given at once."""
FIRST_STRIPS = 12
"""So many come along with a new list."""


@dataclass(frozen=True, slots=True)
class Filter:
    """Which strips are wanted; None means all. Days are local, both included.

    light: color, infrared or dark. tagged: no, partly or yes. doubt: time or unsure.
    """

    cameras: list[str] | None = None
    deployments: list[str] | None = None
    buck: str | None = None
    first: date | None = None
    last: date | None = None
    light: str | None = None
    tagged: str | None = None
    doubt: str | None = None
    oldest: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a list: untagged, partly, tagged or empty; its strips in order, its frames."""

    part: str
    frames: int
    strips: list[str]


class Lists:
    """The last lists that were asked for, by a token. Thread-safe."""

    def __init__(self) -> None:
        self._lists: OrderedDict[str, list[Part]] = OrderedDict()
        self._lock = threading.Lock()

    def keep(self, parts: list[Part]) -> str:
        """Keep a list; give its token."""
        token = secrets.token_hex(6)
        with self._lock:
            self._lists[token] = parts
            while len(self._lists) > _KEPT:
                self._lists.popitem(last=False)
        return token

    def find(self, token: str) -> list[Part] | None:
        """Give a list, or None if it was let go."""
        with self._lock:
            if token in self._lists:
                self._lists.move_to_end(token)
            return self._lists.get(token)


def listed(session: Session, wanted: Filter) -> list[Part]:
    """Give the strips that a filter lets through, untagged ones first, likely-empty ones last."""
    return rows(session.con, "list", Part, **asdict(wanted))


@dataclass(frozen=True, slots=True)
class CardDone:
    """How far a card is sorted: its frames, and those with a tag."""

    card: str
    camera: str
    frames: int
    tagged: int


def cards_done(session: Session) -> list[CardDone]:
    """Give for every card how many of its frames have a tag."""
    return rows(session.con, "cards_done", CardDone)


def nearest(session: Session, parts: Sequence[Part], day: date) -> tuple[str, int] | None:
    """Give the part and the place in it of the visit nearest to a local day; None without any."""
    known = dict(session.con.execute("SELECT strip, first FROM page.visits").fetchall())
    found = [
        (abs((known[strip] - day).days), nth, at, part.part)
        for nth, part in enumerate(parts)
        for at, strip in enumerate(part.strips)
        if known.get(strip)
    ]
    if not found:
        return None
    _, _, at, name = min(found)
    return name, at


@dataclass(frozen=True, slots=True)
class Tag:
    """What people say is in a frame. `words` names it; `mark` is buck, animal, people, nothing."""

    subject: str
    words: str
    mark: str
    buck_id: str | None
    count: int | None
    travel_deg: float | None
    unsure: bool


@dataclass(frozen=True, slots=True)
class Frame:
    """A frame of a strip. `at`: local time with offset, or None; `kind`: jpeg, mp4, ...

    `shown`: what the camera's clock showed, where that is a minute or more off; `kept`: because it
    kept the time of the day it was hung through a switch of the clocks. `box`: where
    something is new, as shares of the picture: left, top, width, height. `way`: left or right,
    as estimated across its burst.
    """

    frame: str
    burst: str
    at: str | None
    light: str | None
    kind: str
    doubt: str | None
    tags: list[Tag]
    shown: str | None = None
    box: list[float] | None = None
    way: str | None = None
    kept: bool = False


@dataclass(frozen=True, slots=True)
class Strip:
    """A strip with its frames in order.

    `facing_deg`: where its camera looks [deg true]; `wide`: its pictures are wider than 3 to 2.
    """

    strip: str
    camera: str
    deployment: str | None
    card: str
    facing_deg: float | None
    wide: bool
    frames: list[Frame] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _FrameRow:
    """A row of frames.sql."""

    strip: str
    frame: str
    burst: str
    camera: str
    deployment: str | None
    card: str
    utc: datetime | None
    local: datetime | None
    day: date | None
    in_daylight: bool | None
    doubt: str | None
    light: str | None
    kind: str
    shown: str | None
    box: list[float] | None
    way: str | None
    kept: bool
    wide: bool | None
    facing_deg: float | None
    tags: list[dict[str, Any]] | None


def strips(session: Session, wanted: Sequence[str]) -> list[Strip]:
    """Give strips with all their frames, in the order of `wanted`; what is gone is left out."""
    found: dict[str, Strip] = {}
    names = Names(session)
    for row in rows(session.con, "frames", _FrameRow, strips=list(wanted)):
        if row.strip not in found:
            found[row.strip] = _strip(row)
        found[row.strip].frames.append(_frame(row, names))
    return [found[strip] for strip in wanted if strip in found]


def tags_of(session: Session, frames: Iterable[str]) -> dict[str, list[Tag]]:
    """Give what stands on each of these frames, also those with nothing."""
    out: dict[str, list[Tag]] = {frame: [] for frame in frames}
    names = Names(session)
    found = run(session.con, "tags", frames=list(out))
    columns = [column[0] for column in found.description or []]
    for cells in found.fetchall():
        row = dict(zip(columns, cells, strict=True))
        out[row["frame"]].append(names.tag(row))
    return out


class Names:
    """Words for subjects, asked for once each."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._words: dict[str, str] = {}

    def tag(self, row: dict[str, Any]) -> Tag:
        """Give a tag as pages show it."""
        return Tag(
            row["subject"],
            self._in_words(row),
            mark_of(row["what"], row["buck_id"]),
            row["buck_id"],
            row["count"],
            row["travel_deg"],
            row["sure"] == "unsure",
        )

    def _in_words(self, row: dict[str, Any]) -> str:
        if row["buck"]:
            return str(row["buck"])
        key = row["subject"]
        if key not in self._words:
            subject = Subject(row["what"], row["buck_id"], row["species"], row["sex"], row["stage"])
            self._words[key] = in_words(self._session, subject)
        return self._words[key]


def mark_of(what: str, buck_id: str | None) -> str:
    """Give the mark of a subject: buck, animal, people, nothing or unknown."""
    if buck_id:
        return "buck"
    known = {"animal": "animal", "person": "people", "vehicle": "people", "nothing": "nothing"}
    return known.get(what, "unknown")


def _strip(row: _FrameRow) -> Strip:
    return Strip(row.strip, row.camera, row.deployment, row.card, row.facing_deg, bool(row.wide))


def _frame(row: _FrameRow, names: Names) -> Frame:
    at = None
    if row.utc and row.local:
        at = local_of(row.utc, row.local).isoformat(timespec="seconds")
    tags = [names.tag(tag) for tag in row.tags or []]
    return Frame(
        row.frame,
        row.burst,
        at,
        row.light,
        row.kind,
        row.doubt,
        tags,
        row.shown,
        row.box,
        row.way,
        row.kept,
    )
