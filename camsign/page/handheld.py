"""A handheld's or phone's file as a page shows it: sorted by what is in it, then taken."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from camsign.flows.fieldwork.sorting import sort_files, take

if TYPE_CHECKING:
    from camsign.flows.fieldwork.items import Item
    from camsign.flows.fieldwork.sorting import Sorted
    from camsign.logbook.session import Session

GROUPS = {
    "cameras": "camera",
    "places": "place",
    "areas": "area",
    "sign": "sign",
    "walks": "walked path",
}
_SHOWN = 200


def sorted_file(session: Session, path: Path) -> dict[str, Any]:
    """Read a file and give what is in it, group by group; nothing is noted yet.

    Raises:
        InputRefused: nothing in it can be read.
    """
    found = sort_files(session, [path])
    return {
        "file": path.name,
        "groups": {name: _group(getattr(found, name)) for name in GROUPS},
        "left_out": _left_out(found)[:_SHOWN],
        "notes": found.notes[:_SHOWN],
        "twins": len(found.twins),
    }


def take_file(session: Session, path: Path, as_one: bool) -> tuple[dict[str, int], list[str]]:
    """Take in what a file holds: how many of each, and a line for each thing left out.

    Args:
        session: the open logbook.
        path: the file.
        as_one: leave out sign that is known from another device.

    Raises:
        InputRefused: nothing in it can be read.
    """
    found = sort_files(session, [path])
    done = take(session, found, as_one, only=list(GROUPS))
    counts = {word: getattr(done, name) for name, word in GROUPS.items()}
    return counts, _left_out(found)[:_SHOWN]


def _group(items: list[Item]) -> dict[str, Any]:
    rows = [
        {
            "name": i.name,
            "kind": i.kind,
            "at": f"{i.lat:.5f}, {i.lon:.5f}",
            "day": i.day.isoformat() if i.day else "",
            "state": i.state,
            "why": i.why,
        }
        for i in items[:_SHOWN]
    ]
    return {"rows": rows, "all": len(items), "new": sum(i.state != "known" for i in items)}


def _left_out(found: Sorted) -> list[str]:
    unknown = (f"{i.where}: {i.why or i.name}" for i in found.not_understood)
    return [*found.refused, *unknown]
