"""Tags from a table: columns frame, what, buck, count, travel (also species, sex, stage, sure).

All rows are one act, looked through before anything is said (`plan_tags`, then `take_tags`) and set
against the tags that stand: new, known, better known, or in conflict. A row that cannot be taken
costs one line and leaves the others; a buck that nobody knows stops all.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from dataclasses import replace as changed
from pathlib import Path
from typing import Literal

from camsign.errors import CamsignError, InputRefused, UsageError
from camsign.formats.table import Row, read_table
from camsign.logbook import naming
from camsign.logbook.edits import NOTHING, Edit, SetFields, Subject, TagFrames, UntagFrames
from camsign.logbook.session import Session
from camsign.tags.bucks import checked_name, find_buck
from camsign.tags.frames import Skipped, look_up
from camsign.tags.tagging import Tagged, buck_subject, subject_of, tag_edit, with_seen_off
from camsign.units import counted, parse_bearing

Verdict = Literal["new", "known", "better", "conflict"]
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
    unknown: dict[str, str] = field(default_factory=dict)


@dataclass(slots=True)
class TagPlan:
    """What a table would do. `new`, `known`, `better` count tags; nothing is said yet.

    `better`: a count, a bearing or a name is known of what stood there unnamed. `conflicts`: frames
    in which another buck, or nothing, stands: they stay so. `skipped` rows cannot be taken.
    """

    file: str
    new: int = 0
    known: int = 0
    better: int = 0
    conflicts: list[Skipped] = field(default_factory=list)
    skipped: list[Skipped] = field(default_factory=list)
    added_bucks: list[str] = field(default_factory=list)
    frames: set[str] = field(default_factory=set)
    edits: list[Edit] = field(default_factory=list)

    def in_words(self) -> str:
        """Say it in one line."""
        parts = [counted(self.new, "new tag"), f"{self.known:,} known already"]
        parts += [f"{self.better:,} better known now"] if self.better else []
        parts += [f"{len(self.conflicts):,} in conflict"] if self.conflicts else []
        parts += [f"{counted(len(self.skipped), 'line')} left out"] if self.skipped else []
        return f"{self.file}: {', '.join(parts)}"


def import_tags(
    session: Session, path: Path, add_bucks: bool = False, replace: bool = False
) -> Tagged:
    """Take in tags from a CSV file; see `plan_tags` and `take_tags`."""
    return take_tags(session, plan_tags(session, path, add_bucks, replace))


def plan_tags(
    session: Session, path: Path, add_bucks: bool = False, replace: bool = False
) -> TagPlan:
    """Look through a table of tags and hold it against what stands; nothing is said.

    Args:
        path: the file; `travel` is a bearing such as NE or 120M, `travel_deg` one in degrees true.
        add_bucks: add bucks that are not known yet instead of refusing the table.
        replace: where the table contradicts a frame's tags, the table is right.

    Raises:
        InputRefused: no table, no column `frame`, neither `what` nor `buck`, or a buck that is not
            known.
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
    if reading.unknown:
        named = ", ".join(repr(name) for name in reading.unknown.values())
        raise InputRefused(
            f"{path.name} names bucks that are not in this logbook: {named}; nothing was saved",
            "fix the names, or add the bucks with --add-bucks",
        )
    return _plan(reading, path.name, replace)


def take_tags(session: Session, plan: TagPlan) -> Tagged:
    """Say what was planned, as one act; nothing if nothing in it is new.

    Raises:
        CamsignError: the journal cannot be written.
    """
    if plan.edits:
        session.say(f"tagged {counted(len(plan.frames), 'picture')} from {plan.file}", plan.edits)
    return Tagged(
        len(plan.frames),
        plan.skipped,
        plan.file,
        plan.added_bucks,
        known=plan.known,
        conflicts=plan.conflicts,
    )


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
        degrees = cells.get("travel_deg")
        travel = cells.get("travel") or (f"{degrees}T" if degrees else "")
        key = (_subject(reading, cells), _count(cells), travel, cells.get("sure", ""))
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
    except UsageError:
        if not reading.add_bucks:
            reading.unknown.setdefault(naming.key(said), said)
        name = checked_name(said)
        # From the name, so that two friends who take in one table mean one buck.
        made = naming.content_id("b", naming.key(name))
        buck = reading.new_bucks.setdefault(naming.key(name), (made, name))[0]
    return buck_subject(buck)


def _count(cells: dict[str, str]) -> int:
    text = cells.get("count", "")
    if text and not (text.isascii() and text.isdigit()):
        raise UsageError(f"count {text!r} is no whole number")
    return int(text[:6] or 1)


def _edit(session: Session, key: _Say, frames: list[str]) -> TagFrames:
    subject, count, travel, sure = key
    bearing = parse_bearing(travel) if travel else None
    return tag_edit(session, subject, list(dict.fromkeys(frames)), count, bearing, sure or None)


def _plan(reading: _Reading, file: str, replace: bool) -> TagPlan:
    plan = TagPlan(file, skipped=reading.skipped)
    beside: dict[str, set[str]] = defaultdict(set)
    for (subject, *_), frames in reading.said.items():
        for frame in frames:
            beside[frame].add(subject.key)
    there = standing(reading.session, beside)
    weaker: Counter[tuple[str, Standing]] = Counter()
    gone: dict[str, list[str]] = defaultdict(list)
    for key, frames in reading.said.items():
        tag = _edit(reading.session, key, frames)
        new = Standing(tag.subject, tag.count, tag.travel_deg, tag.sure)
        kept = [f for f in tag.frames if _sorted(plan, f, new, there[f], beside[f], replace)]
        for frame in kept:
            weaker.update((frame, t) for t in there[frame] if is_weaker(t.subject, new.subject))
            # `nothing` takes off by itself what stands there.
            for old in there[frame] if replace and new.subject.what != NOTHING else ():
                conflict = verdict(new, [old], beside[frame]) == "conflict"
                if conflict and frame not in gone[old.subject.key]:
                    gone[old.subject.key].append(frame)
        if kept:
            plan.edits += with_seen_off(reading.session, _edit(reading.session, key, kept))
            plan.frames.update(kept)
    added = reading.new_bucks.values()
    plan.added_bucks = [name for _, name in added]
    new_bucks = (SetFields("buck", b, {"name": n, "gone": False}) for b, n in added)
    plan.edits = [*new_bucks, *_unsaid(gone, weaker), *plan.edits]
    return plan


def _sorted(
    plan: TagPlan,
    frame: str,
    new: Standing,
    there: list[Standing],
    beside: set[str],
    replace: bool,
) -> bool:
    """Count one tag of one frame; say whether it is to be taken."""
    found = verdict(new, there, beside)
    if found == "known":
        plan.known += 1
    elif found == "conflict" and not replace:
        why = "another tag stands there; it stays (--replace takes the table's)"
        plan.conflicts.append(Skipped(frame, why))
    elif found == "new":
        plan.new += 1
    else:
        plan.better += 1
    return found in ("new", "better") or (found == "conflict" and replace)


def _unsaid(
    gone: dict[str, list[str]], weaker: Counter[tuple[str, Standing]]
) -> Iterator[UntagFrames | TagFrames]:
    """Take away what is contradicted, and unnamed deer as far as they have a name now."""
    stays: dict[Standing, list[str]] = defaultdict(list)
    for (frame, old), named in weaker.items():
        if old.count > named:  # of several deer in it some stay without a name
            stays[changed(old, count=old.count - named)].append(frame)
        elif frame not in gone[old.subject.key]:
            gone[old.subject.key].append(frame)
    yield from (UntagFrames(key, frames) for key, frames in gone.items() if frames)
    for left, frames in stays.items():
        yield TagFrames(left.subject, frames, left.count, left.travel_deg, left.sure)


@dataclass(frozen=True, slots=True)
class Standing:
    """A tag that stands in a frame; its buck is who he is now."""

    subject: Subject
    count: int
    travel_deg: float | None
    sure: str | None


def standing(session: Session, frames: Iterable[str]) -> dict[str, list[Standing]]:
    """Give the tags that stand in these frames."""
    rows = session.con.execute(
        "SELECT frame, what, coalesce(n.buck_id, t.buck_id), species, sex, stage,"
        " coalesce(count, 1), travel_deg, sure FROM tags t LEFT JOIN bucks_now n"
        " ON n.buck = t.buck_id WHERE frame IN (SELECT unnest(?::VARCHAR[]))"
        " ORDER BY frame, subject",
        [list(frames)],
    ).fetchall()
    found: dict[str, list[Standing]] = defaultdict(list)
    for frame, what, buck, species, sex, stage, *rest in rows:
        found[frame].append(Standing(Subject(what, buck, species, sex, stage), *rest))
    return found


def is_weaker(old: Subject, new: Subject) -> bool:
    """Whether `old` says less of the same animal: some deer that nobody named, and now he is."""
    return (
        new.buck_id is not None
        and old.buck_id is None
        and old.what == "animal"
        and old.species in (None, "deer")
        and old.sex in (None, "male")
        and old.stage != "juvenile"
    )


def verdict(new: Standing, there: list[Standing], beside: set[str]) -> Verdict:
    """Say what a tag is beside those that stand in its frame.

    `beside`: the subjects that the same table names in that frame: they do not contradict it.
    """
    same = next((t for t in there if t.subject.key == new.subject.key), None)
    if same:
        says_no_more = (
            new.count == same.count
            and new.travel_deg in (None, same.travel_deg)
            and new.sure in (None, same.sure)
        )
        return "known" if says_no_more else "better"
    if any(is_weaker(new.subject, t.subject) for t in there):
        return "known"
    others = [t for t in there if t.subject.key not in beside]
    if any(_excludes(new.subject, t.subject) for t in others):
        return "conflict"
    return "better" if any(is_weaker(t.subject, new.subject) for t in there) else "new"


def _excludes(new: Subject, old: Subject) -> bool:
    """Two names for what may be one animal, or something where nothing was seen."""
    if NOTHING in (new.what, old.what):
        return new.what != old.what
    return bool(new.buck_id and old.buck_id)
