"""Whether cards that were called one camera's are plainly from several.

A folder of cards is dragged in as quickly as one card is. So before anything is copied a few
pictures of each are asked what they say by themselves, as if nobody had named a camera.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path

from camsign.errors import CamsignError, InputRefused, quoted
from camsign.flows.intake.card_files import Dump, widened
from camsign.flows.intake.one_file import Job
from camsign.flows.intake.whose import Whose, several

_NAMED = 3
"""So many cards are named; of more their number is given."""


@dataclass(slots=True)
class _Heard:
    """What a dump's new pictures say: whose they are, their models, and serials by folder."""

    dump: Dump
    cameras: set[str] = field(default_factory=set)
    models: set[str] = field(default_factory=set)
    serials: dict[Path, set[str]] = field(default_factory=dict)


def refuse_several(job: Job, dumps: Sequence[Dump], paths: Iterable[Path]) -> None:
    """Refuse one camera for what is plainly several cameras'; a card alone is taken at your word.

    Args:
        job: with the camera that was said for all.
        dumps: the cards.
        paths: what a person named. A card in a folder that was named, and not itself, must say that
            it is this camera's, unless it is the only one.

    Raises:
        InputRefused: one line on which cameras there are, and how to load each.
    """
    said, alone = str(job.camera), replace(job, camera=None, ask=None)
    heard = [one for dump in dumps if (one := _heard(alone, dump))]
    where = _names(one.dump.root for one in heard)
    if len(cameras := set[str]().union(*(one.cameras for one in heard))) > 1:
        raise several(where, said, cameras)
    if differ := _bodies(heard):
        raise InputRefused(
            f"{where}: you said {said}, but there are pictures from different cameras ({differ})",
            f"load one folder at a time: camsign ingest FOLDER --camera {quoted(said)}",
        )
    named = {widened(path.resolve()) for path in paths}
    open_ones = [h.dump for h in heard if said not in h.cameras and h.dump.root not in named]
    if len(heard) > 1 and any(not dump.only for dump in open_ones):
        every = " ".join(quoted(str(one.dump.root)) for one in heard)
        those = f"{_names(d.root for d in open_ones)} {'is' if len(open_ones) == 1 else 'are'}"
        raise InputRefused(
            f"there are {len(heard)} cards ({where}), and nothing says that {those} {said}'s",
            f"if so, name each of them: camsign ingest {every} --camera {quoted(said)}",
        )


def _heard(job: Job, dump: Dump) -> _Heard | None:
    """Ask a few pictures of each folder; None where none is new or the card can't be read."""
    whose = Whose(job, dump)
    try:
        items = whose.survey()
    except CamsignError:
        return None  # taking it in will say why
    new = [item for item in items if item.before is None]
    heard = _Heard(dump, whose.speaks_for(), {i.row.model for i in new if i.row.model})
    for item in new:
        if item.row.serial:
            heard.serials.setdefault(Path(item.file.path).parent, set()).add(item.row.serial)
    return heard if new else None


def _bodies(heard: Sequence[_Heard]) -> str:
    """Say in which folders lie which serial numbers, or models, if they have none in common."""
    by_serial = {folder: found for one in heard for folder, found in one.serials.items()}
    by_model = {one.dump.root: one.models for one in heard if one.models}
    for what, found in (("serial", by_serial), ("model", by_model)):
        folders = sorted(found)
        for one, other in pairwise(folders):
            if not found[one] & found[other]:
                at = " and ".join(f"{', '.join(sorted(found[f]))} in {f}" for f in (one, other))
                return f"{what} {at}"
    return ""


def _names(roots: Iterable[Path]) -> str:
    names = sorted(map(str, roots))
    return " and ".join(names) if len(names) <= _NAMED else f"{names[0]} and {len(names) - 1} more"
