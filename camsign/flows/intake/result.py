"""What an ingest gives back, and the question it may have to ask."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from camsign.flows.intake.since_last_check import SinceLastCheck
from camsign.logbook.receipts import Left
from camsign.logbook.records import FrameFacts
from camsign.pixels.scores import BLIND, SPOKEN, Aside
from camsign.units import counted


@dataclass(frozen=True, slots=True)
class CardTaken:
    """One camera's pictures from one dump.

    `card` is its id, `folder` its name under cards/, "" if the logbook held every picture already.
    `frames` = `new` + `known`. `first` and `last` are ISO 8601 text, local with offset, by the
    right time of the pictures; `first_shown`, `last_shown` what the camera's clock showed, without
    offset. `known_by` says how it is known whose card it is; `source` where it was read.
    """

    card: str
    camera: str
    folder: str
    frames: int
    new: int
    known: int
    first: str | None
    last: str | None
    first_shown: str | None
    last_shown: str | None
    known_by: str
    source: str
    safe_to_wipe: bool


@dataclass(frozen=True, slots=True)
class CameraCount:
    """All of one camera's pictures in this ingest; `first` and `last` as in `CardTaken`."""

    camera: str
    frames: int
    new: int
    known: int
    first: str | None
    last: str | None


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something that is not to be trusted in `frames` pictures, of which `file` is the first."""

    why: str
    frames: int
    file: str


@dataclass(frozen=True, slots=True)
class IngestResult:
    """What came in.

    `files` counts every file on the cards but the companions. `refused` lists every file that was
    not taken in, and why; `lost` those of them that were accepted as lost. `reasons` say why the
    cards are not safe to wipe; none if they are.
    `warnings` are single lines for people that ask for attention, `notes` lines that do not.
    `since`: what each camera with new frames did since its last check. `set_aside`: how many of the
    new frames are likely empty. `seconds` is how long it took [s]. `second_copy`: how old the
    logbook's latest backup is, in one line.
    """

    cards: tuple[CardTaken, ...]
    files: int
    new: int
    known: int
    refused: tuple[Left, ...]
    by_camera: tuple[CameraCount, ...]
    safe_to_wipe: bool
    seconds: float
    reasons: tuple[str, ...] = ()
    companions: tuple[Left, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    since: tuple[SinceLastCheck, ...] = ()
    set_aside: tuple[Aside, ...] = ()
    dry_run: bool = False
    lost: tuple[Left, ...] = ()
    second_copy: str = ""


def verdict(done: IngestResult) -> list[str]:
    """Say in lines whether the cards may be wiped, why not, and each file that would be lost."""
    if not done.safe_to_wipe:
        return ["NOT SAFE TO WIPE:", *(f"  {why}" for why in done.reasons)]
    aside = f" {_not_copied(done.companions)}" if done.companions else ""
    wait = [done.second_copy] if done.second_copy else []
    if not done.lost:
        said = f"SAFE TO WIPE: every picture and clip on the card has a verified copy.{aside}"
        return [said, *wait]
    files = "1 file is" if len(done.lost) == 1 else f"{len(done.lost)} files are"
    kinds: dict[str, list[str]] = {}
    for left in done.lost:
        kinds.setdefault(left.why, []).append(left.file)
    return [
        f"SAFE TO WIPE, but {files} lost then, as you accepted; all the rest has a verified copy:",
        *(f"  {why}: {', '.join(names)}" for why, names in kinds.items()),
        *([f"  {aside.strip()}"] if aside else []),
        *wait,
    ]


def _not_copied(aside: Sequence[Left]) -> str:
    first, more = aside[0].file, len(aside) - 1
    rest = f" and {more} more, which hold no picture of their own" if more else ""
    return f"Not copied: {first}{rest or ', which holds no picture of its own'}."


def words_of(asides: Sequence[Aside], what: str = "new pictures") -> str:
    """Say in one line how many frames were set aside and how to see them; "" if none could be."""
    frames, gone = sum(a.frames for a in asides), sum(a.likely_empty for a in asides)
    if not any(a.scored for a in asides):
        return ""
    if not gone:
        return f"None of {frames:,} {what} set aside as likely empty: all are shown"
    return (
        f"{gone:,} of {frames:,} {what} set aside as likely empty, "
        "none deleted; see them: camsign frames --likely-empty"
    )


def held_words(asides: Sequence[Aside], on_page: bool = False) -> list[str]:
    """Say what wants a look before it is set aside, what could not be judged, who saw nothing."""
    lines = []
    # From the woods says what waits below, all cards of the logbook together, once.
    if not on_page and (held := {a.camera: a.look_first for a in asides if a.look_first}):
        many = sum(held.values())
        look = "picture looks empty but waits" if many == 1 else "pictures look empty but wait"
        each = ", ".join(f"{camera} {n}" for camera, n in held.items())
        lines.append(f"{many:,} {look} for your check (camsign frames --look-first): {each}")
    unjudged, why = _unjudged(asides)
    if unjudged:
        which = counted(unjudged, "other picture" if lines else "picture")
        lines.append(f"Can't tell if {which} {'is' if unjudged == 1 else 'are'} empty: {why}")
    if taught := [f"{counted(a.taught, 'burst')} at {a.camera}" for a in asides if a.taught]:
        lines.append(f"Learned from what you tagged as nothing: {', '.join(taught)}")
    for a in asides:
        if 2 * sum(a.cant_judge.get(why, 0) for why in BLIND) > a.frames:
            lines.append(f"{a.camera}: most pictures show nothing: check its lamp, lens, batteries")
    return lines


def _unjudged(asides: Sequence[Aside]) -> tuple[int, str]:
    """How many could not be judged, and why in words, the most frequent reason first."""
    reasons: Counter[str] = sum((Counter(a.cant_judge) for a in asides), Counter())
    why = ", ".join(f"{n} {SPOKEN.get(word, word)}" for word, n in reasons.most_common())
    return reasons.total(), why


def sorted_words(asides: Sequence[Aside]) -> str:
    """Say in one line of how many pictures how many were set aside, wait, or can't be judged."""
    unjudged, why = _unjudged(asides)
    gone, held = sum(a.likely_empty for a in asides), sum(a.look_first for a in asides)
    told = [
        f"{gone:,} set aside as likely empty (still in the logbook)",
        f"{held:,} look empty but wait for your check" if held else "",
        f"{unjudged:,} we couldn't judge ({why})" if unjudged else "",
    ]
    return f"{counted(sum(a.frames for a in asides), 'picture')}: {', '.join(filter(None, told))}."


@dataclass(frozen=True, slots=True)
class Question:
    """Whose pictures are these? `conflict`: the card contradicts itself, else nothing names one.

    `picture` is the first of `frames` pictures that were looked at, with its `facts`. `candidates`
    are the cameras that something speaks for, `cameras` all that are known.
    """

    source: Path
    picture: Path
    frames: int
    facts: FrameFacts
    why: str
    conflict: bool
    candidates: tuple[str, ...]
    cameras: tuple[str, ...]


Ask = Callable[[Question], str | None]
