"""A table's tags held against those that stand: new, known, better known, or in conflict."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from camsign.logbook.edits import NOTHING, Subject
from camsign.logbook.session import Session

Verdict = Literal["new", "known", "better", "conflict"]


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
