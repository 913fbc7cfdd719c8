"""One command on several logbooks: each answers in its turn, and the answers stand side by side."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from camsign.answers.result import Answer, plain
from camsign.cli.opened import Asked
from camsign.errors import UsageError
from camsign.logbook.folder import find

if TYPE_CHECKING:
    from camsign.cli.command import Out

Bounds = dict[str, Any]


def outs(
    asked: Asked, bounds: Bounds, call: Callable[[Bounds], Out[Any]]
) -> Iterator[tuple[str, Out[Any] | UsageError]]:
    """Give what each logbook answers, or why it cannot; a buck is found by his links too."""
    from camsign.answers.properties import known, named

    folders = named([find(path, Path.cwd()) for path in asked.logbooks])
    words = [bounds["buck"]] if bounds.get("buck") else bounds.get("bucks") or []
    who = known(folders) if words else None
    for name, folder in folders.items():
        asked.logbook = folder.root
        here = dict(bounds)
        if who is not None:
            meant = [who.word(name, word) for word in words]
            here |= {"buck": meant[0]} if bounds.get("buck") else {"bucks": meant}
        try:
            yield name, call(here)
        except UsageError as e:
            yield name, e
        finally:
            asked.logbook = None


def as_values(found: Sequence[tuple[str, Any]]) -> list[dict[str, Any]]:
    """Give answers as JSON has them: one a property."""
    rows = []
    for name, value in found:
        given = value.to_json() if hasattr(value, "to_json") else plain(value)
        rows.append({"property": name} | (given if isinstance(given, dict) else {"rows": given}))
    return rows


def as_rows(found: Sequence[tuple[str, Any]]) -> tuple[list[dict[str, Any]], list[str]]:
    """Give answers' rows one after the other, and the columns there are without any."""
    rows, columns = [], ["property"]
    for name, value in found:
        if isinstance(value, Answer):
            rows += [{"property": name} | row for row in value.to_records(flat=True)]
            columns += [c for c in value.columns() if c not in columns]
    return rows, columns
