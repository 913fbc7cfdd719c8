"""Things that have a name: found, added, changed and taken away by it, one act each.

And which buck is this: by his name or id, also a former one, merges followed to their end.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from camsign.errors import UsageError
from camsign.logbook import naming
from camsign.logbook.edits import SetFields, new_id
from camsign.logbook.fields import Kind
from camsign.logbook.session import Session


def names(session: Session, kind: Kind) -> dict[str, str]:
    """Give the names of the things of a kind that stand, by id, made unique."""
    thing = kind.thing
    rows = session.con.execute(
        f"SELECT {thing}, coalesce(name, {thing}), row_number() OVER"
        f" (PARTITION BY lower(coalesce(name, {thing})) ORDER BY {thing})"
        f" FROM {kind.stands_in} WHERE gone IS NOT TRUE"
    ).fetchall()
    return {i: f"{name} ({i})" if nth > 1 else name for i, name, nth in rows}


def find(session: Session, kind: Kind, said: str) -> str:
    """Give the id of a thing by name or id. Raises UsageError with the nearest name."""
    return naming.find(names(session, kind), said, kind.thing)


def fields_of(session: Session, kind: Kind, found: str) -> dict[str, Any]:
    """Give what stands of a thing, by field; without a name its id is it."""
    columns = list(kind.columns)
    row = session.con.execute(
        f"SELECT {', '.join(columns)} FROM {kind.stands_in} WHERE {kind.thing} = ?", [found]
    ).fetchone()
    now = dict(zip(columns, row or [None] * len(columns), strict=True))
    return now | {"name": names(session, kind).get(found, found)}


def add(
    session: Session, kind: Kind, fields: Mapping[str, Any], unique: bool = True
) -> tuple[str, dict[str, Any]]:
    """Add a thing; give its id and fields.

    Raises UsageError: the name is none, or taken where it must be `unique`.
    """
    name = naming.cleaned(fields["name"], kind.thing)
    if unique:
        naming.refuse_taken(names(session, kind), name, kind.thing)
    made, kept = new_id(kind.letter), {**fields, "name": name}
    session.say(f"added {kind.thing} {name}", [SetFields(kind.thing, made, kept)])
    return made, kept


def change(
    session: Session, kind: Kind, said: str, fields: Mapping[str, Any]
) -> tuple[str, dict[str, Any]]:
    """Change fields of a thing, named by name or id; what is None stays. Give it as it will stand.

    Raises UsageError: there is none, the new name is taken, or nothing is to change.
    """
    known = names(session, kind)
    found = naming.find(known, said, kind.thing)
    new = {name: value for name, value in fields.items() if value is not None}
    if not new:
        raise UsageError(f"nothing to change of {known[found]} was named", "change something first")
    what = f"changed {kind.thing} {known[found]}"
    if "name" in new:
        new["name"] = naming.cleaned(new["name"], kind.thing)
        naming.refuse_taken(known, new["name"], kind.thing, but=found)
        what = f"renamed {kind.thing} {known[found]} to {new['name']}"
    session.say(what, [SetFields(kind.thing, found, new)])
    return found, {**fields_of(session, kind, found), **new}


def remove(session: Session, kind: Kind, said: str) -> tuple[str, dict[str, Any]]:
    """Take a thing, named by name or id, out of every answer; `undo` brings it back.

    Raises UsageError: there is none.
    """
    found = find(session, kind, said)
    now = fields_of(session, kind, found)
    session.say(
        f"removed {kind.thing} {now['name']}", [SetFields(kind.thing, found, {"gone": True})]
    )
    return found, now


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
