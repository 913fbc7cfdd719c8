"""One buck known in two logbooks: each says which buck of the other he is. Nothing is merged.

His name, age and pictures stay what each logbook says. A link is kept as LOGBOOK/BUCK, both by
their ids; said in one of the two logbooks it counts for both.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from camsign.errors import UsageError
from camsign.logbook.edits import SetFields
from camsign.logbook.named import known_bucks
from camsign.tags.bucks import BuckSaid, find_buck

if TYPE_CHECKING:
    from camsign.logbook.session import Session


@dataclass(frozen=True, slots=True)
class OneBuck:
    """A buck of a logbook: its id, his id and name there, and whom he is linked to."""

    logbook: str
    buck_id: str
    buck: str
    linked: frozenset[str]

    @property
    def key(self) -> str:
        """How a link names him."""
        return f"{self.logbook}/{self.buck_id}"


def bucks_here(session: Session) -> list[OneBuck]:
    """Give every buck who stands, with his links and those of bucks merged into him."""
    known = known_bucks(session)
    rows = session.con.execute("SELECT buck, linked FROM bucks WHERE linked IS NOT NULL").fetchall()
    links: dict[str, set[str]] = {}
    for buck, linked in rows:
        links.setdefault(known.now.get(buck, buck), set()).update(linked)
    own = session.settings.id
    return [OneBuck(own, b, name, frozenset(links.get(b, ()))) for b, name in known.names.items()]


def link_buck(session: Session, buck: str, other: OneBuck) -> BuckSaid:
    """Say that a buck is one whom another logbook knows.

    Raises:
        UsageError: there is no such buck here, or the other one is of this very logbook.
    """
    found = find_buck(session, buck)
    if other.logbook == session.settings.id:
        raise UsageError(
            f"{found.buck} and {other.buck} are of one logbook", "make them one: camsign buck merge"
        )
    linked = _linked(session, found.buck_id)
    if other.key not in linked:
        edit = SetFields("buck", found.buck_id, {"linked": sorted({*linked, other.key})})
        session.say(f"linked {found.buck} to {other.buck} of another logbook", [edit])
    return found


def unlink_buck(session: Session, buck: str) -> BuckSaid:
    """Say that a buck is known in no other logbook.

    Raises:
        UsageError: there is no such buck, or nothing links him.
    """
    found = find_buck(session, buck)
    if not _linked(session, found.buck_id):
        raise UsageError(f"{found.buck} is linked to no buck of another logbook")
    session.say(f"unlinked {found.buck}", [SetFields("buck", found.buck_id, {"linked": None})])
    return found


def groups(links: Mapping[str, Collection[str]]) -> dict[str, set[str]]:
    """Give for every linked buck all who are he, over any number of links; keys as LOGBOOK/BUCK."""
    found: dict[str, set[str]] = {}
    for key, linked in links.items():
        for other in linked:
            joined = found.get(key, {key}) | found.get(other, {other})
            for one in joined:
                found[one] = joined
    return found


def _linked(session: Session, buck_id: str) -> set[str]:
    return {key for one in bucks_here(session) if one.buck_id == buck_id for key in one.linked}
