"""Which buck is this: by his name or id, also a former one, merges followed to their end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from camsign.logbook import naming

if TYPE_CHECKING:
    from camsign.logbook.session import Session


@dataclass(frozen=True, slots=True)
class KnownBucks:
    """Every buck ever named. `now`: who each id is now; `names`: of those that stand, made unique;
    `former`: what each id that stands for another, or stands, was called."""

    now: dict[str, str]
    names: dict[str, str]
    former: dict[str, str]

    def name(self, buck: str) -> str:
        """Give the name of the buck whom an id means now; his id without one."""
        now = self.now.get(buck, buck)
        return self.names.get(now, now)

    def find(self, said: str) -> str:
        """Give the id of the buck whom a name or id means now; present names go before former.

        Raises UsageError: there is none; the nearest name is offered.
        """
        return self.now[naming.find({**self.names, **self.former}, said, "buck")]


def known_bucks(session: Session) -> KnownBucks:
    """Give every buck of a logbook.

    Says the same as the view bucks_now, by hand: following merges by recursion takes SQL longer
    than a million detections do.
    """
    rows = session.con.execute(
        "SELECT buck, coalesce(name, buck), merged_into, gone IS TRUE FROM bucks ORDER BY buck"
    ).fetchall()
    into = {buck: other for buck, _, other, _ in rows if other is not None}
    now = {buck: _end(buck, into) for buck, *_ in rows}
    gone = {buck for buck, _, _, is_gone in rows if is_gone}
    names: dict[str, str] = {}
    taken: set[str] = set()
    for buck, name, *_ in rows:
        if now[buck] == buck and buck not in gone:
            names[buck] = f"{name} ({buck})" if name.lower() in taken else name
            taken.add(name.lower())
    former = {b: name for b, name, *_ in rows if b not in names and now[b] not in gone}
    return KnownBucks(now, names, former)


def _end(buck: str, into: dict[str, str]) -> str:
    """Follow merges to the buck he is now; a ring of merges ends in the first of its ids."""
    passed: list[str] = []
    while buck in into and buck not in passed:
        passed.append(buck)
        buck = into[buck]
    return min(passed[passed.index(buck) :]) if buck in passed else buck
