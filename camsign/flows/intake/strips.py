"""What cameras print into their pictures, read where nothing else says whose they are, or when.

A machine misreads a letter now and then, so no single strip is believed: a name counts where all
strips looked at in a folder have it, a time where it fits the order of the card's files.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from functools import partial
from pathlib import Path

from camsign.flows.intake.one_file import Item, Job
from camsign.flows.intake.other_times import PRINTED_ALONE
from camsign.flows.intake.read import CardReadError, read_whole
from camsign.formats.kinds import CLIPS, Kind

_LEAST = 3
_FITTING = 0.75
_LEAST_STRIPS = 2


def words_of_folders(job: Job, items: Iterable[Item]) -> dict[str, str]:
    """Give, by folder of the card, the words that the strips of all these pictures have in common.

    Args:
        job: what the stages of an intake work with.
        items: pictures that say nothing of their camera; of fewer than two nothing is believed.
    """
    from camsign.pixels.strip_words import reads_strips  # which loads NumPy

    there = [item for item in items if Kind(item.row.kind) not in CLIPS]
    if not there or not reads_strips():
        return {}
    by_folder: dict[str, list[set[str]]] = {}
    read = job.executor.map(partial(_words, job), there)
    for item, words in zip(there, read, strict=True):
        folder = item.file.card_path.rpartition("/")[0]
        by_folder.setdefault(folder, []).append(set(words.split()))
    common = {f: set.intersection(*s) for f, s in by_folder.items() if len(s) >= _LEAST_STRIPS}
    return {folder: " ".join(sorted(words)) for folder, words in common.items() if words}


def _words(job: Job, item: Item) -> str:
    from camsign.pixels.strip_words import strip_words

    try:
        data = read_whole(job.reader, item.file.path, item.file.bytes)
    except CardReadError:
        return ""
    return strip_words(Kind(item.row.kind), data, Path(item.file.path))


def agreeing(items: Iterable[Item]) -> set[str]:
    """Give the frames whose printed time fits the order of the files in their folder.

    Args:
        items: what became of a card's files, in the order of their names.
    """
    by_folder: dict[str, list[tuple[str, str]]] = {}
    for item in items:
        row = item.row
        if row.shown and row.shown_from == PRINTED_ALONE:
            folder = row.card_path.rpartition("/")[0]
            by_folder.setdefault(folder, []).append((row.shown, row.frame))
    found = set()
    for readings in by_folder.values():
        fits = _longest_rise([shown for shown, _ in readings])
        if len(fits) >= max(_LEAST, _FITTING * len(readings)):
            found |= {readings[n][1] for n in fits}
    return found


def _longest_rise(values: Sequence[str]) -> list[int]:
    """Give the places of a longest run of values, some left out, of which none falls."""
    ends: list[str] = []
    places: list[int] = []
    before: list[int | None] = []
    for n, value in enumerate(values):
        at = bisect_right(ends, value)
        before.append(places[at - 1] if at else None)
        ends[at : at + 1] = [value]
        places[at : at + 1] = [n]
    rise: list[int] = []
    last = places[-1] if places else None
    while last is not None:
        rise.append(last)
        last = before[last]
    return rise[::-1]
