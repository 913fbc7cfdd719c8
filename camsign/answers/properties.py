"""Several logbooks side by side: the names of their properties, and who is who in them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from camsign.derive.opening import open_logbook
from camsign.errors import UsageError
from camsign.logbook import naming
from camsign.logbook.folder import Folder
from camsign.tags.links import OneBuck, bucks_here, groups


def named(folders: Sequence[Folder]) -> dict[str, Folder]:
    """Give folders by their properties' names, made unique.

    Raises:
        UsageError: one logbook is named twice.
    """
    found: dict[str, Folder] = {}
    for folder in folders:
        root = folder.root.resolve()
        if any(root == other.root.resolve() for other in found.values()):
            raise UsageError(f"{root} is named twice", "name each logbook once")
        name = root.name if root.name not in found else f"{root.name} ({folder.settings.id[:6]})"
        found[name] = folder
    return found


class Known:
    """Who is who in several logbooks: names in each, and links between them."""

    def __init__(self, bucks: Mapping[str, Sequence[OneBuck]]) -> None:
        self.bucks = bucks
        self._groups = groups({one.key: one.linked for there in bucks.values() for one in there})

    def word(self, there: str, said: str) -> str:
        """Give the word for a buck in one property: what was said, or the id of whom it links."""
        if self._find(there, said):
            return said
        others = [one for name in self.bucks for one in self._find(name, said)]
        keys = {key for one in others for key in self._groups.get(one.key, ())}
        linked = [one.buck_id for one in self.bucks[there] if one.key in keys]
        return linked[0] if linked else said

    def linked(self) -> list[dict[str, str]]:
        """Give each buck who is known in more than one, as his name by property."""
        found = []
        for group in dict.fromkeys(map(frozenset, self._groups.values())):
            here = {
                name: one.buck
                for name, bucks in self.bucks.items()
                for one in bucks
                if one.key in group
            }
            if len(here) > 1:
                found.append(here)
        return found

    def one(self, there: str, said: str) -> OneBuck:
        """Give the buck of a property whom a name or id means.

        Raises:
            UsageError: there is none; the nearest name is offered.
        """
        names = {one.buck_id: one.buck for one in self.bucks[there]}
        buck_id = naming.find(names, said, "buck")
        return next(one for one in self.bucks[there] if one.buck_id == buck_id)

    def _find(self, there: str, said: str) -> list[OneBuck]:
        wanted = naming.key(said)
        return [o for o in self.bucks[there] if wanted in (naming.key(o.buck), o.buck_id)]


def known(folders: Mapping[str, Folder]) -> Known:
    """Read who is who, opening one logbook after the other."""
    found = {}
    for name, folder in folders.items():
        with open_logbook(folder) as session:
            found[name] = bucks_here(session)
    return Known(found)
