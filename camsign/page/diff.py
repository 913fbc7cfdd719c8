"""What is different after the copy took something in, so that open pages ask anew only for that."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

MOST_FRAMES = 5000
# Things on which a frame's camera, time or burst hang.
_MOVING = frozenset({"deployment", "clock_fix", "card", "camera"})


@dataclass(frozen=True, slots=True)
class Changes:
    """What changed: frames whose tags did (None: too many to name), kinds of things, time itself.

    `moved`: frames came in, or belong to another camera, time or visit than before.
    """

    version: int
    frames: list[str] | None = field(default_factory=list)
    things: list[str] = field(default_factory=list)
    moved: bool = False


class Diff:
    """Remembers which cards the copy held, to tell what is new."""

    def __init__(self, con: DuckDBPyConnection) -> None:
        self._version = 0
        self.start(con)

    @property
    def version(self) -> int:
        """How often something new was taken in."""
        return self._version

    def start(self, con: DuckDBPyConnection) -> None:
        """Take the copy as it is for known."""
        self._cards = _cards(con)

    def changes(self, con: DuckDBPyConnection) -> Changes:
        """Give what changed with the last refresh of this connection."""
        things = con.execute(
            "SELECT DISTINCT thing FROM changed WHERE thing IS NOT NULL"
        ).fetchall()
        frames = con.execute(
            "SELECT DISTINCT frame FROM changed WHERE frame IS NOT NULL LIMIT ?", [MOST_FRAMES + 1]
        ).fetchall()
        cards, before = _cards(con), self._cards
        self.start(con)
        self._version += 1
        return Changes(
            self._version,
            [f for (f,) in frames] if len(frames) <= MOST_FRAMES else None,
            sorted(t for (t,) in things),
            cards != before or bool(_MOVING & {t for (t,) in things}),
        )

    def all_new(self, con: DuckDBPyConnection) -> Changes:
        """Give what to say when the copy was made afresh: everything may be different."""
        self.start(con)
        self._version += 1
        return Changes(self._version, None, [], True)


def _cards(con: DuckDBPyConnection) -> set[str]:
    return {card for (card,) in con.execute("SELECT card FROM cards").fetchall()}
