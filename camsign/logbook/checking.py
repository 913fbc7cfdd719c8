"""Checks the files that the truth is in: journals and settings, line by line.

Nothing is changed. What is found names the file, what is wrong with it, and what to do.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from camsign.errors import CamsignError
from camsign.logbook import journal, memory, settings
from camsign.logbook.folder import Folder
from camsign.logbook.journal import Line
from camsign.logbook.lines import joined

Kind = Literal["damage", "away", "note"]


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that is not as it was written. `file` is its path inside the logbook.

    `kind`: `damage` costs pictures or words; `away` is on another machine; `note` costs nothing.
    """

    kind: Kind
    file: str
    what: str
    cure: str = ""


def check_settings(folder: Folder) -> Iterator[Finding]:
    """Find what does not fit in logbook.toml."""
    try:
        found = settings.read(folder.root / settings.FILE)
    except OSError as e:
        yield Finding("damage", settings.FILE, f"cannot be read ({e.strerror})", _COPY)
    except CamsignError as e:
        yield Finding("damage", settings.FILE, e.what, e.remedy)
    else:
        for line in found.troubles:
            yield Finding("note", settings.FILE, line)
        yield from _other_settings(folder)


def _other_settings(folder: Folder) -> Iterator[Finding]:
    """Settings beside logbook.toml, which a sync service put there: they are not read."""
    own = folder.root / settings.FILE
    for path in sorted(folder.root.glob("*.[tT][oO][mM][lL]")):
        if path.name == own.name or path.name.startswith("."):
            continue
        try:
            differing = settings.changed(own, path)
        except (OSError, CamsignError) as e:
            differing = (str(e),)
        says = ", ".join(differing) or "it says the same"
        cure = f"take over into {settings.FILE} what is right, then delete it"
        yield Finding("note", path.name, f"is not read; {settings.FILE} is: {says}", cure)


ACCEPTED = "you said it is gone for good"
_COPY = "bring it back from a copy of this logbook"
FETCH = "camsign verify --repair --from DIR brings it back from a copy of this logbook"


def check_journals(folder: Folder) -> Iterator[Finding]:
    """Find lines that are torn, changed, missing or repeated; those that this machine remembers
    and that are no longer at the end of their file are missing."""
    known, accepted = (memory.counts(folder, of) for of in (memory.LINES, memory.ACCEPTED))
    seen: dict[str, tuple[str, Line]] = {}
    counted: list[tuple[str, int]] = []
    paths, strange = journal.files(folder)
    for file, why in strange:
        yield Finding("note", f"journal/{file}", why)
    for path in paths:
        name = f"journal/{path.name}"
        reading = journal.read(path)
        for number, what in reading.troubles:
            yield Finding("damage", f"{name}, line {number}", f"was changed: {what}", FETCH)
        if reading.torn and known.get(path.stem, 0) <= max(
            (n for _, n in reading.counted), default=0
        ):
            torn = "its last line is torn: it was never noted"
            yield Finding("note", name, torn, "nothing needs to be done")
        counted += reading.counted
        yield from _repeated(name, reading.lines, seen)
    yield from _missing(counted, known, accepted)


def _repeated(
    name: str, lines: Iterable[Line], seen: dict[str, tuple[str, Line]]
) -> Iterator[Finding]:
    """Lines that stand twice, in one file or in two: they count once."""
    twice: dict[str, int] = defaultdict(int)
    for line in lines:
        where, other = seen.setdefault(line.act, (name, line))
        if other is line:
            continue
        if other != line:
            what = f"says another thing in line {line.n} than {where}, under the same act"
            yield Finding("damage", name, what, "compare both with a copy of this logbook")
        else:
            twice[where] += 1
    for where, n in twice.items():
        told = f"{_lines(n, 'stands', 'stand')} here and in {where}: counted once"
        yield Finding("note", name, told, "nothing needs to be done")


def _missing(
    counted: Iterable[tuple[str, int]], known: Mapping[str, int], accepted: Mapping[str, int]
) -> Iterator[Finding]:
    numbers: dict[str, set[int]] = defaultdict(set)
    for writer, n in counted:
        numbers[writer].add(n)
    for writer in sorted({*numbers, *known}):
        last = max(numbers[writer], default=0)
        runs = pairwise([(0, 0), *joined((n, n) for n in numbers[writer])])
        gaps = [(a + 1, b - 1) for (_, a), (b, _) in runs if b > a + 1]
        beyond = [(last + 1, known[writer])] if known.get(writer, 0) > last else []
        total = sum(b - a + 1 for a, b in (*gaps, *beyond))
        damage = total > accepted.get(writer, 0)
        for gone, what in ((gaps, "missing"), (beyond, "gone that this machine had read")):
            if gone:
                many = sum(b - a + 1 for a, b in gone)
                told = f"{_lines(many, 'is', 'are')} {what}: {_spans(gone)}"
                yield _gone(f"journal/{writer}.jsonl", told, damage)


def _gone(file: str, what: str, damage: bool) -> Finding:
    return Finding("damage", file, what, FETCH) if damage else Finding("note", file, what, ACCEPTED)


def _lines(n: int, one: str, many: str) -> str:
    return f"1 line {one}" if n == 1 else f"{n} lines {many}"


def _spans(runs: list[tuple[int, int]]) -> str:
    """Give spans of numbers as `3, 7 to 9`."""
    shown = [str(a) if a == b else f"{a} to {b}" for a, b in runs[:5]]
    return ", ".join(shown) + (" and more" if len(runs) > 5 else "")
