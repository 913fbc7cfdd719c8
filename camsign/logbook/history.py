"""What was said, in order, and taking it back; and what could not be read of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from camsign.errors import InputRefused, UsageError
from camsign.logbook.database import run_sql
from camsign.logbook.edits import TakeBack
from camsign.logbook.session import Session


@dataclass(frozen=True, slots=True)
class Act:
    """One act: its id, when it was said (UTC), by which writer, what, and if it was undone."""

    act: str
    said: str
    writer: str
    what: str
    undone: bool


def history(session: Session, limit: int | None = None, of: str | None = None) -> list[Act]:
    """Give the acts of all writers, the latest first, at most `limit`.

    `of`: only those that speak of this: a name (also a former one) or id of a thing, a camera, a
    frame, an act; with those that took them back.

    Raises UsageError: nothing was ever said of it.
    """
    given = {"of": of, "most": limit if limit is not None else 1 << 40}
    rows = run_sql(session.con, __file__, "history.sql", **given).fetchall()
    if of is not None and not rows:
        raise UsageError(f"nothing was ever said of {of!r}", "see all of it: camsign history")
    return [Act(act, said[:-6], writer, what, undone) for act, said, writer, what, undone in rows]


def undo(session: Session, act: str | None = None) -> Act:
    """Take back an act by its id (or the beginning of it), else this writer's last that stands.

    Taking back an undo says again what it had taken back.

    Raises:
        UsageError: no act has this id, or several begin so.
        InputRefused: there is nothing to take back.
    """
    target = _named(session, act or _last(session))
    if target.undone:
        raise InputRefused(f"{target.act} ({target.what}) is undone already")
    session.say(f"undid: {target.what}", [TakeBack([target.act])])
    return target


def _named(session: Session, prefix: str) -> Act:
    found = [a for a in history(session) if a.act.startswith(prefix)]
    if len(found) != 1:
        many = "nothing in your history starts" if not found else f"{len(found)} acts start"
        raise UsageError(f"{many} with {prefix!r}", "see: camsign history")
    return found[0]


def loaded_since(session: Session, act: str = "") -> list[tuple[str, str]]:
    """Give the cards (id, camera) loaded after an act, or ever: undoing passes over them."""
    return session.con.execute(
        "SELECT card, camera FROM cards_now WHERE taken_in_utc > coalesce("
        "(SELECT max(left(said, -6)::TIMESTAMP) FROM acts WHERE act = ?), '-infinity'::TIMESTAMP) "
        "ORDER BY taken_in_utc DESC, card",
        [act],
    ).fetchall()


def _last(session: Session) -> str:
    rows = session.con.execute(
        "SELECT act FROM acts WHERE NOT undone AND undoes IS NULL AND writer = ? "
        "ORDER BY said DESC LIMIT 1",
        [session.folder.writer],
    ).fetchall()
    if not rows:
        raise InputRefused("there is nothing to undo", stays(loaded_since(session)))
    return str(rows[0][0])


def stays(cards: Sequence[tuple[str, str]]) -> str:
    """Say that these cards, of `loaded_since`, stay, and how to move one; empty without any."""
    if not cards:
        return ""
    (card, camera), *more = cards
    if more:
        where = "if one went to the wrong camera: camsign cards list, then camsign cards set CARD"
        return f"the {len(cards)} cards loaded since stay; {where} --camera ID"
    where = f"if it went to the wrong camera: camsign cards set {card} --camera ID"
    return f"{camera}'s card, loaded since, stays; {where}"


def unread(session: Session) -> list[str]:
    """Give one line for each thing that could not be read: what, where, why."""
    rows = session.con.execute("SELECT file, line, what FROM troubles ORDER BY ALL").fetchall()
    return [
        f"{file}, line {line}: {what}" if line else f"{file}: {what}" for file, line, what in rows
    ]
