"""The help of `camsign`: its commands in families, in the order of the work."""

from __future__ import annotations

from typing import Any, ClassVar

from typer.core import TyperGroup

_MOST = 200  # letters: the whole first sentence


class Families(TyperGroup):
    """All commands; `members` are the names in each family, in order."""

    members: ClassVar[dict[str, list[str]]] = {}

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write each family under its title, every command with its whole sentence."""
        wide = max(len(name) for names in self.members.values() for name in names)
        for title, names in self.members.items():
            rows = [(n.ljust(wide), self.commands[n].get_short_help_str(_MOST)) for n in names]
            with formatter.section(title):
                formatter.write_dl(rows)
