"""What an answer about several spots says of pictures that nobody has sorted yet."""

from __future__ import annotations

from collections.abc import Mapping

from camsign.answers.result import Watch
from camsign.units import counted


def unsorted_at(watch: Mapping[str, Watch], much: bool = False) -> str:
    """Say of the spot with the most nights that are not sorted how many, and how many others have
    some; empty without any. `much`: only of those where they may mislead."""
    waits = {s: one for s, one in watch.items() if (one.much_waits if much else one.but_unsorted)}
    if not waits:
        return ""
    spot = max(waits, key=lambda name: waits[name].nights_unsorted)
    told = waits[spot].unsorted_in_words() or ""
    others = f", and more at {counted(len(waits) - 1, 'other place')}" if len(waits) > 1 else ""
    return told if len(watch) == 1 else f"at {spot} {told}{others}"


def but_unsorted_at(watch: Mapping[str, Watch]) -> str:
    """What to add where nobody is said to have come: the nights that are not sorted, if any."""
    told = unsorted_at(watch)
    return f"; {told}" if told else ""


def waiting_at(watch: Mapping[str, Watch]) -> str | None:
    """Why nothing is told of the whole: so much waits at a spot (`Watch.waiting`); else None."""
    if not any(one.waiting for one in watch.values()):
        return None
    return f"{unsorted_at(watch, much=True)}. Sort them first"


def sort_first(watch: Mapping[str, Watch]) -> str:
    """What to say behind an answer that may mislead, so much waits at a spot; else empty."""
    told = unsorted_at(watch, much=True)
    return f" But {told}. Sort them first." if told else ""
