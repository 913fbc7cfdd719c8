"""What files of a handheld hold, by what it is, and how much of it was taken."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from camsign.answers.result import INNER
from camsign.flows.fieldwork.new_or_known import Item
from camsign.flows.fieldwork.sign_items import Duplicate
from camsign.units import counted as many

GROUPS = ("cameras", "places", "sign", "areas", "walks", "sits", "not_understood")


def counted(counts: Mapping[str, int]) -> str:
    """Say how many of each group there are: `12 camera spots, 80 pieces of sign`."""
    return ", ".join(_many(n, group) for group, n in counts.items() if n) or "nothing"


def _many(n: int, group: str) -> str:
    if group == "not_understood":
        return f"{n} not understood"
    words = {"sign": f"{many(n, 'piece')} of sign", "cameras": many(n, "camera spot")}
    return words.get(group) or many(n, group.removesuffix("s"))


@dataclass(slots=True)
class SortedFiles:
    """What files hold, by what it is; `refused` could not be read, `notes` tell how things were.
    `twins`: new sign that is probably known from another device. Nothing is said yet.
    """

    # `offered`: how many photos of rubs say which way the camera looked, which was not taken as his
    # travel; `rows`: how many things the files hold.

    files: list[str] = field(metadata=INNER)
    cameras: list[Item] = field(default_factory=list)
    places: list[Item] = field(default_factory=list)
    sign: list[Item] = field(default_factory=list)
    areas: list[Item] = field(default_factory=list)
    walks: list[Item] = field(default_factory=list)
    sits: list[Item] = field(default_factory=list)
    not_understood: list[Item] = field(default_factory=list)
    twins: list[Duplicate] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    offered: int = field(default=0, metadata=INNER)
    rows: int = field(default=0, metadata=INNER)

    @property
    def items(self) -> list[Item]:
        """Everything, in the order of the groups."""
        return [item for group in GROUPS for item in getattr(self, group)]

    def in_words(self) -> str:
        """Say it in one line, such as `12 camera spots, 80 pieces of sign, 6 not understood`."""
        return counted({group: len(getattr(self, group)) for group in GROUPS})


@dataclass(frozen=True, slots=True)
class FieldTaken:
    """How many of each were taken as `new` or `changed`, and how many were known already.

    `said`: whether anything was, so that `undo` takes just this back.
    """

    cameras: int
    places: int
    sign: int
    areas: int
    walks: int
    not_understood: int
    known: int
    refused: list[str]
    said: bool = False
    sits: int = 0

    def in_words(self) -> str:
        """Say in one line how many of each were taken."""
        return counted({group: getattr(self, group) for group in GROUPS})
