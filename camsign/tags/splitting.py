"""Parting one buck into two: some of his frames show another animal."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from camsign.errors import UsageError
from camsign.logbook import naming
from camsign.logbook.edits import Edit, SetFields, Subject, TagFrames, UntagFrames, new_id
from camsign.logbook.named import known_bucks
from camsign.logbook.session import Session
from camsign.tags.bucks import checked_name, find_buck
from camsign.tags.frames import Skipped, by_ids
from camsign.units import counted


@dataclass(frozen=True, slots=True)
class Split:
    """The new buck, the one he was parted from, how many frames went over, and what did not."""

    buck: str
    buck_id: str
    split_from: str
    frames: int
    skipped: list[Skipped]


def split_buck(session: Session, buck: str, name: str, frames: Iterable[str]) -> Split:
    """Give some of a buck's frames to a new buck, with their count, travel and sureness.

    Frames by 12 or more of their hex digits; what names none or several is skipped.
    Reference pictures and measurements on these frames go over too. It is one act: `undo` makes
    them one again.

    Raises:
        UsageError: no such buck, the name is taken, or he is tagged in none of the frames.
    """
    found, kept = find_buck(session, buck), checked_name(name)
    naming.refuse_taken(known_bucks(session).names, kept, "buck")
    chosen = by_ids(session, frames)
    rows = session.con.execute(
        'SELECT t.frame, t.subject, t."count", t.travel_deg, t.sure'
        " FROM tags t JOIN bucks_now n ON n.buck = t.buck_id"
        " WHERE n.buck_id = ? AND t.frame IN (SELECT unnest(?::VARCHAR[])) ORDER BY t.frame",
        [found.buck_id, chosen.frames],
    ).fetchall()
    if not rows:
        raise UsageError(
            f"{found.buck} is tagged in none of these pictures", "name pictures of his"
        )
    new, moved = new_id("b"), {row[0] for row in rows}
    edits: list[Edit] = [SetFields("buck", new, {"name": kept})]
    edits += _moved_tags(rows, Subject("animal", new, species="deer", sex="male"))
    edits += _moved_things(session, found.buck_id, new, moved)
    session.say(f"split {kept} from {found.buck}: {counted(len(moved), 'picture')}", edits)
    others = [Skipped(f, f"{found.buck} is not in it") for f in chosen.frames if f not in moved]
    return Split(kept, new, found.buck, len(moved), [*chosen.skipped, *others])


def _moved_tags(rows: list[tuple[Any, ...]], subject: Subject) -> list[Edit]:
    old: dict[str, list[str]] = defaultdict(list)
    new: dict[tuple[Any, ...], list[str]] = defaultdict(list)
    for frame, key, *details in rows:
        old[key].append(frame)
        new[tuple(details)].append(frame)
    taken: list[Edit] = [UntagFrames(key, frames) for key, frames in old.items()]
    said = [
        TagFrames(subject, list(dict.fromkeys(frames)), count or 1, travel, sure)
        for (count, travel, sure), frames in new.items()
    ]
    return [*taken, *said]


def _moved_things(session: Session, old: str, new: str, frames: set[str]) -> list[Edit]:
    edits: list[Edit] = []
    for thing in ("reference_picture", "measurement"):
        found = session.con.execute(
            f"SELECT r.{thing} FROM {thing}s r JOIN bucks_now n ON n.buck = r.buck"
            " WHERE n.buck_id = ? AND r.gone IS NOT TRUE"
            " AND r.frame IN (SELECT unnest(?::VARCHAR[])) ORDER BY 1",
            [old, sorted(frames)],
        ).fetchall()
        edits += [SetFields(thing, row[0], {"buck": new}) for row in found]
    return edits
