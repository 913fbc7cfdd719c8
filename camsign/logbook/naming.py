"""Names that people give: told apart ignoring case, found again by name or permanent id.

Of cameras, bucks, areas and places alike.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Container, Mapping
from itertools import count
from typing import TYPE_CHECKING

from camsign.errors import UsageError

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

MAX_CHARS = 80
_ID = re.compile(r"[a-z]-[0-9a-f]{8,12}")


def cleaned(name: str, what: str) -> str:
    """Give a name as it is kept: outer blanks cut, inner ones single, Unicode composed.

    Raises:
        UsageError: empty, too long, with control characters, or shaped like an id.
    """
    kept = " ".join(unicodedata.normalize("NFC", name).split())
    if not kept:
        raise UsageError(f"a {what} needs a name")
    if len(kept) > MAX_CHARS:
        raise UsageError(f"the name {kept[:30]!r}… is longer than {MAX_CHARS} characters")
    if any(unicodedata.category(c) in ("Cc", "Cf") for c in kept):
        raise UsageError(f"the name {kept!r} holds characters that cannot be seen")
    if _ID.fullmatch(kept.lower()):
        raise UsageError(f"{kept!r} looks like an id and cannot be a name")
    return kept


def key(name: str) -> str:
    """What two spellings of one name share."""
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())


def content_id(letter: str, *parts: str) -> str:
    """Give the id of an imported thing, the same wherever and whenever it is imported.

    Twelve digits, since a file may hold fifty thousand things.
    """
    return f"{letter}-{hashlib.sha256('|'.join(parts).encode()).hexdigest()[:12]}"


def find(known: Mapping[str, str], said: str, what: str) -> str:
    """Give the id of a thing by its id or name.

    Args:
        known: the things' names by id.
        said: what the person wrote.
        what: the word for such a thing, as in its command.

    Raises:
        UsageError: there is none; the nearest name is offered.
    """
    wanted = key(said)
    if wanted in known:
        return wanted
    for thing, name in known.items():
        if key(name) == wanted:
            return thing
    raise UsageError(f"there is no {what} {said.strip()!r}", _offer(known, wanted, what))


def _a(what: str) -> str:
    return f"an {what}" if what[0] in "aeiou" else f"a {what}"


def refuse_taken(known: Mapping[str, str], name: str, what: str, but: str | None = None) -> None:
    """Raise UsageError if another thing than `but` has this name already, whatever its case."""
    for thing, other in known.items():
        if thing != but and key(other) == key(name):
            raise UsageError(f"there's already {_a(what)} called {other!r}", "pick another name")


def free(name: str, taken: Container[str]) -> str:
    """Give a name, with the first number behind it that makes it free of those `taken`, by key."""
    if key(name) not in taken:
        return name
    return next(n for i in count(2) if key(n := f"{name} {i}") not in taken)


def camera_as_known(con: DuckDBPyConnection, said: str) -> str:
    """Give a camera's ID in the spelling it first had in this logbook, else as said, cleaned.

    Raises:
        UsageError: it can be no ID.
    """
    name = cleaned(said, "camera")
    row = con.execute(
        "SELECT min(camera) FROM (SELECT camera FROM cameras UNION ALL SELECT camera FROM cards_now"
        " UNION ALL SELECT camera FROM deployments WHERE gone IS NOT TRUE)"
        " WHERE lower(camera) = lower(?)",
        [name],
    ).fetchone()
    return str(row[0]) if row and row[0] else name


def _offer(known: Mapping[str, str], wanted: str, what: str) -> str:
    from difflib import get_close_matches

    names = {key(name): name for name in known.values()}
    near = get_close_matches(wanted, names, n=1, cutoff=0.6)
    if near:
        return f"did you mean {names[near[0]]!r}?"
    return f"list them with: camsign {what} list"
