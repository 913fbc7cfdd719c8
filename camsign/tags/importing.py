"""Tags from a table: columns frame, what, buck, count, travel (also species, sex, stage, sure).

All rows are one act. A row that cannot be taken costs one line and leaves the others.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from camsign.errors import CamsignError, InputRefused, UsageError
from camsign.formats.table import Row, read_table
from camsign.logbook import naming
from camsign.logbook.edits import Edit, SetFields, Subject
from camsign.tags.bucks import checked_name, find_buck
from camsign.tags.frames import Skipped, look_up
from camsign.tags.tagging import Tagged, subject_of, tag_edit
from camsign.units import parse_bearing

if TYPE_CHECKING:
    from camsign.logbook.session import Session

_COLUMNS = frozenset(
    {"frame", "what", "buck", "count", "travel", "species", "sex", "stage", "sure"}
)
_Say = tuple[Subject, int, str, str]


@dataclass(slots=True)
class _Reading:
    """What the rows have said so far."""

    session: Session
    add_bucks: bool
    said: dict[_Say, list[str]] = field(default_factory=dict)
    skipped: list[Skipped] = field(default_factory=list)
    subjects: dict[tuple[str, ...], Subject] = field(default_factory=dict)
    new_bucks: dict[str, tuple[str, str]] = field(default_factory=dict)


def import_tags(session: Session, path: Path, add_bucks: bool = False) -> Tagged:
    """Take in tags from a CSV file.

    Args:
        session: the open logbook.
        path: the file; `travel` is a bearing such as NE or 120M, `travel_deg` one in degrees true.
        add_bucks: add bucks that are not known yet instead of refusing their rows.

    Raises:
        InputRefused: no table, no column `frame`, or neither `what` nor `buck`.
        CamsignError: the journal cannot be written.
    """
    table = read_table(path)
    columns = {name.lower(): name for name in table.columns}
    if "frame" not in columns or not {"what", "buck"} & set(columns):
        told = f"{path} has the columns {', '.join(table.columns)}"
        raise InputRefused(told, "it needs frame and at least one of what, buck")
    reading = _Reading(session, add_bucks)
    reading.skipped += [Skipped("", line) for line in table.troubles]
    frames, lost = look_up(session, (row.cells[columns["frame"]] for row in table.rows))
    why = {skip.frame: skip.why for skip in lost}
    for row in table.rows:
        cells = {name.lower(): text for name, text in row.cells.items()}
        _take(reading, row, cells, frames.get(cells["frame"]), why)
    return _say(reading, path.name)


def _take(
    reading: _Reading,
    row: Row,
    cells: dict[str, str],
    frame: str | None,
    why: dict[str, str],
) -> None:
    said = cells["frame"]
    if frame is None:
        reading.skipped.append(Skipped(said, f"line {row.line}: {why[said]}"))
        return
    try:
        key = (_subject(reading, cells), _count(cells), _travel(cells), cells.get("sure", ""))
        # Everything about the tag is checked once per kind of tag, not per row.
        if key not in reading.said:
            _edit(reading.session, key, [])
        reading.said.setdefault(key, []).append(frame)
    except CamsignError as e:
        reading.skipped.append(Skipped(said, f"line {row.line}: {e}"))


def _subject(reading: _Reading, cells: dict[str, str]) -> Subject:
    parts = tuple(cells.get(k, "") for k in ("what", "buck", "species", "sex", "stage"))
    if parts not in reading.subjects:
        what, buck, species, sex, stage = parts
        if buck:
            reading.subjects[parts] = _buck(reading, what, buck)
        elif what:
            reading.subjects[parts] = subject_of(reading.session, what, species, sex, stage)
        else:
            raise UsageError("it says neither what nor which buck")
    return reading.subjects[parts]


def _buck(reading: _Reading, what: str, said: str) -> Subject:
    if what and naming.key(what) not in ("animal", "deer", "buck"):
        raise UsageError(f"it says {what!r} and the buck {said!r}", "a buck is an animal")
    try:
        buck = find_buck(reading.session, said).buck_id
    except UsageError as e:
        if not reading.add_bucks:
            raise UsageError(e.what, f"{e.remedy} (or import with --add-bucks)") from e
        name = checked_name(said)
        # From the name, so that two friends who take in one table mean one buck.
        made = naming.content_id("b", naming.key(name))
        buck = reading.new_bucks.setdefault(naming.key(name), (made, name))[0]
    return Subject("animal", buck, species="deer", sex="male")


def _count(cells: dict[str, str]) -> int:
    text = cells.get("count", "")
    if text and not (text.isascii() and text.isdigit()):
        raise UsageError(f"count {text!r} is no whole number")
    return int(text[:6] or 1)


def _travel(cells: dict[str, str]) -> str:
    degrees = cells.get("travel_deg", "")
    return cells.get("travel", "") or (f"{degrees}T" if degrees else "")


def _edit(session: Session, key: _Say, frames: list[str]) -> Edit:
    subject, count, travel, sure = key
    bearing = parse_bearing(travel) if travel else None
    return tag_edit(session, subject, list(dict.fromkeys(frames)), count, bearing, sure or None)


def _say(reading: _Reading, file: str) -> Tagged:
    added = list(reading.new_bucks.values())
    edits: list[Edit] = [SetFields("buck", b, {"name": n, "gone": False}) for b, n in added]
    edits += [_edit(reading.session, key, frames) for key, frames in reading.said.items()]
    frames = {frame for frames in reading.said.values() for frame in frames}
    if edits:
        reading.session.say(f"tagged {len(frames)} frames from {file}", edits)
    return Tagged(len(frames), reading.skipped, file, [name for _, name in added])
