"""Names that people give: told apart ignoring case, found again by name or permanent id.

Of cameras, bucks, areas and places alike.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Container, Iterable, Mapping, Sequence
from itertools import count
from typing import TYPE_CHECKING

from camsign.errors import UsageError, quoted

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

MAX_CHARS = 80
NEAR = 0.6
# So alike are two of the same letters in another order; our choice.
SWAPPED = 0.9
_LISTS = {"camera": "deployments"}
# What to do where there is none to list.
_FIRST = {
    "buck": "add him: camsign buck add {}",
    "area": "draw it: camsign area add {} --at LAT,LON",
    "camera": "say where it hangs: camsign hang {} --at LAT,LON --from DAY",
}
_CAMERAS = (
    "SELECT camera FROM cameras UNION ALL SELECT camera FROM cards_now"
    " UNION ALL SELECT camera FROM deployments WHERE gone IS NOT TRUE"
)
_ID = re.compile(r"[a-z]-[0-9a-f]{8,12}")


def cleaned(name: str, what: str) -> str:
    """Give a name as it is kept: outer blanks cut, inner ones single, Unicode composed.

    Raises UsageError: empty, too long, with control characters, or shaped like an id.
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


def meant(said: str, known: Iterable[str], names: Sequence[str]) -> str:
    """Offer the word of a fixed list that comes nearest, else all `names`."""
    near = nearest(said, known)
    return f"did you mean {near}?" if near else f"say {', '.join(names)}"


def find(known: Mapping[str, str], said: str, what: str) -> str:
    """Give the id of a thing by its id or name; `known`: names by id, `what`: such a thing's word.

    Raises UsageError: there is none; the nearest name is offered.
    """
    wanted = key(said)
    if wanted in known:
        return wanted
    for thing, name in known.items():
        if key(name) == wanted:
            return thing
    near = nearest(said, known.values())
    name = said.strip()
    if not known and what in _FIRST:
        raise UsageError(f"there is no {what} {name!r}", _FIRST[what].format(quoted(name)))
    listed = f"list them with: camsign {_LISTS.get(what, what)} list"
    offer = f"did you mean {near!r}?" if near else listed
    raise UsageError(f"there is no {what} {name!r}", offer)


def refuse_taken(known: Mapping[str, str], name: str, what: str, but: str | None = None) -> None:
    """Raise UsageError if another thing than `but` has this name already, whatever its case."""
    for thing, other in known.items():
        if thing != but and key(other) == key(name):
            a = "an" if what[0] in "aeiou" else "a"
            raise UsageError(f"there's already {a} {what} called {other!r}", "pick another name")


def free(name: str, taken: Container[str]) -> str:
    """Give a name, with the first number behind it that makes it free of those `taken`, by key."""
    if key(name) not in taken:
        return name
    return next(n for i in count(2) if key(n := f"{name} {i}") not in taken)


def camera_as_known(con: DuckDBPyConnection, said: str) -> str:
    """Give a camera's ID in the spelling it first had in this logbook, else as said, cleaned.

    Raises UsageError: it can be no ID.
    """
    name = cleaned(said, "camera")
    row = con.execute(
        f"SELECT min(camera) FROM ({_CAMERAS}) WHERE lower(camera) = lower(?)", [name]
    ).fetchone()
    return str(row[0]) if row and row[0] else name


def known_camera(con: DuckDBPyConnection, said: str) -> str:
    """Give the camera that a person names, in the spelling it has in this logbook.

    Raises UsageError: there is none; the nearest ID is offered.
    """
    rows = con.execute(f"SELECT DISTINCT camera FROM ({_CAMERAS})").fetchall()
    return find({camera: camera for (camera,) in rows if camera}, said, "camera")


def slip_of(said: str, names: Iterable[str]) -> str | None:
    """Give the name that `said` may be a slip of, such as CAM03 of CAM3: alike, with the same
    numbers, for CAM04 beside CAM03 is another camera."""
    numbers = [int(n) for n in re.findall(r"\d+", said)]
    same = (name for name in names if [int(n) for n in re.findall(r"\d+", name)] == numbers)
    return nearest(said, same)


def nearest(said: str, words: Iterable[str], least: float = NEAR) -> str | None:
    """Give the name or word that comes nearest: one of its own words, else by its letters, the
    first counting most, and those named first before others; None if none is `least` alike."""
    from difflib import SequenceMatcher

    wanted = key(said)

    def alike(name: str) -> tuple[bool, float, bool]:
        ratio = SequenceMatcher(None, wanted, name).ratio()
        if sorted(wanted) == sorted(name):  # swapped letters are one slip, not two
            ratio = max(ratio, SWAPPED)
        return wanted in name.split(), ratio, name[:1] == wanted[:1]

    names = {key(word): word for word in words}
    best = max(names, key=alike, default="")  # of equals the first
    near = bool(best) and (alike(best)[0] or alike(best)[1] >= least)
    return names[best] if near else None
