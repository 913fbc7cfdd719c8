"""An open logbook, as everything that asks it or says something in it is given it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from camsign.logbook import journal
from camsign.logbook.edits import Edit
from camsign.logbook.folder import Folder
from camsign.logbook.settings import Settings

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection


@dataclass(frozen=True)
class Session:
    """An open logbook. The database is read through `con`; people's words go through `say`."""

    folder: Folder
    con: DuckDBPyConnection
    changed: tuple[str, ...] = ()
    """Settings that changed since the database was made, as `reach_m 200 -> 300`."""

    @property
    def settings(self) -> Settings:
        """What logbook.toml says."""
        return self.folder.settings

    @property
    def latest(self) -> str:
        """The latest stamp known of any writer."""
        ((stamp,),) = self.con.execute("SELECT max(latest) FROM journals").fetchall()
        return stamp or journal.FIRST

    def say(self, what: str, edits: Sequence[Edit]) -> str:
        """Note an act in the journal, forced to the disk; give its id.

        The database takes it in when the logbook is opened next (or by `refresh`, at once).

        Raises CamsignError: the journal cannot be written; nothing was said.
        """
        return journal.append(self.folder, what, edits, self.latest).act
