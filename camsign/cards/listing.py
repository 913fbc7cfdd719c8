"""Cards taken in: which there are, where each file of one went, and a wrong camera put right."""

from __future__ import annotations

import os
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import starmap
from pathlib import Path
from typing import Any

from camsign.cards.resting import fixes_in_words, fixes_resting, serials_elsewhere
from camsign.errors import UsageError
from camsign.logbook import let_go, receipts
from camsign.logbook.database import run_sql
from camsign.logbook.edits import SetFields
from camsign.logbook.let_go import LetGo
from camsign.logbook.moments import local
from camsign.logbook.naming import camera_as_known
from camsign.logbook.receipts import Left, read_if_whole
from camsign.logbook.session import Session

_TOLD = re.compile(r"^said (with --camera|when asked)$")
_ID = re.compile(r"[0-9a-f]{4,64}")


def known_in_words(known_by: str) -> str:
    """Say how it is known whose a card is; the receipt's own words are for the rules."""
    return "; ".join(_TOLD.sub("you said so", way) for way in known_by.split("; "))


@dataclass(frozen=True, slots=True)
class CardRow:
    """A card that stands. `first`, `last`: local with offset, by the right time of its frames.

    `frames` counts all its files that were taken in or known, `new` those that it brought.
    `taken_as` is the camera by its receipt, where that was put right since. `taken_in` is local.
    `missing` counts originals that should lie in the logbook and do not: then it is not safe.
    """

    card: str
    camera: str
    frames: int
    first: datetime | None
    last: datetime | None
    new: int
    refused: int
    taken_in: datetime
    safe_to_wipe: bool
    known_by: str
    taken_as: str | None
    folder: str
    source: str
    missing: int = 0


@dataclass(frozen=True, slots=True)
class FileRow:
    """Where one file of a card went: `file` is its place in the logbook, None if it is unknown.

    `from_card` names the card that holds the bytes when it is another one; `stands_for` the full
    picture that a small one sent by radio goes with, and which counts for both.
    """

    card_path: str
    frame: str
    file: str | None
    from_card: str | None
    stands_for: str | None = None


@dataclass(frozen=True, slots=True)
class CardShown:
    """One card with everything that was on it, and how it is known whose it is.

    `twofold`: what else holds it, and how it counts once.
    """

    about: CardRow
    files: tuple[FileRow, ...]
    refused: tuple[Left, ...] = ()
    companions: tuple[Left, ...] = ()
    reasons: tuple[str, ...] = ()
    evidence: tuple[dict[str, Any], ...] = field(default=())
    twofold: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CardSet:
    """A card whose camera was put right. `frames`: how many pictures went over to it; `doubts`:
    what speaks against it, and what rested on the camera it had."""

    card: str
    camera: str
    was: str
    frames: int
    doubts: tuple[str, ...] = ()


def list_cards(session: Session, camera: str | None = None) -> list[CardRow]:
    """List the cards in the order of their first frame; only one camera's if it is named."""
    named = camera_as_known(session.con, camera) if camera else None
    return _rows(session, _missing(session), camera=named)


def show_card(session: Session, said: str) -> CardShown:
    """Show one card. Raises UsageError: no card, or more than one, has an id that begins so."""
    card = find_card(session, said)
    (about,) = _rows(session, _missing(session, card), [card])
    files = run_sql(session.con, __file__, "whereabouts.sql", card=card).fetchall()
    receipt = read_if_whole(session.folder.cards / about.folder / receipts.FILE)
    return CardShown(
        about=about,
        files=tuple(FileRow(*f) for f in files),
        refused=(*receipt.refused, *receipt.left) if receipt else (),
        companions=receipt.companions if receipt else (),
        reasons=receipt.reasons if receipt else (),
        evidence=tuple(receipt.more.get("evidence", ())) if receipt else (),
        twofold=tuple(what for what, _ in _conflicts(session, card)),
    )


def set_camera(session: Session, said: str, camera: str) -> CardSet:
    """Say whose a card is; its frames go over to that camera. Undone like any other word.

    Where two receipts differ about it, the camera that it counts for already may be said as well:
    that settles it.

    Raises UsageError: no card, or more than one, has an id that begins so; the camera can be no ID.
    """
    card = find_card(session, said)
    name = camera_as_known(session.con, camera)
    was, frames = session.con.execute(
        "SELECT camera, (SELECT count(*) FROM frames WHERE frames.card = cards_now.card)"
        " FROM cards_now WHERE card = ?",
        [card],
    ).fetchall()[0]
    if was == name and not any(remedy for _, remedy in _conflicts(session, card)):
        raise UsageError(f"card {card} is {name}'s already", "nothing needs to be done")
    what = f"card {card} is {name}'s" + (f", not {was}'s" if was != name else "")
    doubts = serials_elsewhere(session, card, name)
    if was != name:
        doubts += fixes_in_words(fixes_resting(session, [card]))
    session.say(what, [SetFields("card", card, {"camera": name})])
    return CardSet(card, name, was, frames, tuple(doubts))


def confirm_file_times(session: Session, said: str) -> CardSet:
    """Say that the stamps of a card's files are right: clips without a time get theirs from them.

    Raises:
        UsageError: no card, or more than one, has an id that begins so; none of its times is one.
    """
    card = find_card(session, said)
    camera, frames = session.con.execute(
        "SELECT camera, (SELECT count(*) FROM frames f WHERE f.card = c.card"
        " AND f.shown_from = 'file') FROM cards_now c WHERE card = ?",
        [card],
    ).fetchall()[0]
    if not frames:
        raise UsageError(f"no time of card {card} is a file's stamp", "nothing needs to be done")
    edit = SetFields("card", card, {"file_times": True})
    session.say(f"the file stamps on card {card} are right", [edit])
    return CardSet(card, camera, camera, frames)


def find_card(session: Session, said: str) -> str:
    """Give the id of the card that has, or whose id begins with, these hex digits.

    Raises UsageError: there is none, or more than one.
    """
    wanted = said.strip().lower()
    rows = session.con.execute(
        "SELECT DISTINCT card FROM cards_read WHERE starts_with(card, ?) OR lower(folder) = ?",
        [wanted, wanted],
    ).fetchall()
    if len(rows) == 1:
        return str(rows[0][0])
    if not rows or not _ID.fullmatch(wanted):
        raise UsageError(f"there is no card {said!r}", "list them with: camsign cards list")
    raise UsageError(f"{len(rows)} cards begin with {said!r}", "give more digits")


def _conflicts(session: Session, card: str) -> list[tuple[str, str | None]]:
    """What else holds a card's pictures, and what settles it."""
    return session.con.execute(
        "SELECT what, remedy FROM conflicts WHERE kind IN ('one card twice', 'two cameras',"
        " 'cards in turns') AND list_contains(ids, ?) ORDER BY what",
        [card],
    ).fetchall()


def spans(session: Session, cards: Sequence[str]) -> dict[str, tuple[datetime, datetime]]:
    """Give the first and last right time of cards, local with offset; none for cards without."""
    rows = _rows(session, Counter(), list(cards))
    return {r.card: (r.first, r.last) for r in rows if r.first and r.last}


def _missing(session: Session, card: str | None = None) -> Counter[str]:
    """Count by card the originals that do not lie where they should: by names, not by bytes.

    Those that a person let go of are not missed.
    """
    rows = session.con.execute(
        "SELECT card, file FROM frames WHERE $card IS NULL OR card = $card", {"card": card}
    ).fetchall()
    folders: dict[str, set[str]] = {}
    let: dict[str, dict[str, LetGo]] = {}
    gone: Counter[str] = Counter()
    for owner, file in rows:
        home, _, name = file.rpartition("/")
        if home not in folders:
            folders[home] = _names(session.folder.root / home)
        if name not in folders[home]:
            card, inner = file.split("/", 2)[1:]
            if card not in let:
                let[card] = let_go.read(session.folder.cards / card)
            gone[owner] += inner not in let[card]
    return gone


def _names(folder: Path) -> set[str]:
    try:
        with os.scandir(folder) as entries:
            return {entry.name for entry in entries}
    except OSError:
        return set()


def _rows(
    session: Session,
    gone: Counter[str],
    cards: list[str] | None = None,
    camera: str | None = None,
) -> list[CardRow]:
    """The rows of listing.sql with local times; a card whose originals are gone is not safe."""
    con, tz = session.con, session.settings.tz
    rows = run_sql(con, __file__, "listing.sql", camera=camera, cards=cards).fetchall()
    return [
        replace(
            one,
            first=local(one.first, tz) if one.first else None,
            last=local(one.last, tz) if one.last else None,
            taken_in=local(one.taken_in, tz).replace(microsecond=0),
            safe_to_wipe=one.safe_to_wipe and not gone[one.card],
            missing=gone[one.card],
        )
        for one in starmap(CardRow, rows)
    ]
