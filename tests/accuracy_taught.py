"""What a person's tags teach: of a camera's later visits, how many empties go before and after.

Two hundred frames of each camera, the first, are tagged rightly; those after them are judged, as a
card that comes in later. No part of it was tuned on these seeds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from accuracy_lost import Lost, lost
from pixels_harm import SPOTS, spot
from pixels_world import fates, rows_of
from scenes import Shot, season
from scenes_wind import blowing

from camsign.pixels.scores import THRESHOLDS

TAGS = 200
KINDS: dict[str, Callable[[int], Iterable[Shot]]] = {
    kind: partial(season, triggers=140, kind=kind, animals=0.2)
    for kind in ("calm", "windy", "sunny", "snowing")
} | {"windy, harder": blowing}


@dataclass(frozen=True)
class Frame:
    """A later frame: `over` is its news as a multiple of the threshold, without end if it is held
    for a look; `go`: it is set aside, or on the sheet of its card."""

    light: str
    animal: bool
    over: float
    go: bool
    sheet: bool
    burst: int
    lost: Lost | None = None


def tagged(shots: Sequence[Shot]) -> list[int]:
    """The frames of the first whole bursts, up to so many."""
    last = shots[min(TAGS, len(shots) - 1)].burst
    return [i for i, shot in enumerate(shots) if shot.burst < last]


def later(
    shots: Sequence[Shot], nothing: Iterable[int], scenes: str = "", camera: int = 0
) -> list[Frame]:
    """What becomes of the frames behind those that were tagged, on a card of their own."""
    first = len(tagged(shots))
    rows = rows_of(shots, set(nothing))[first:]
    fate = fates([shot.light for shot in shots[first:]], rows)
    return [
        Frame(
            shot.light,
            bool(shot.animal),
            np.inf if row.comes_back else row.news / THRESHOLDS[shot.light],
            how in ("aside", "sheet"),
            how == "sheet",
            shot.burst,
            Lost(scenes, camera, shot, how, row.news / THRESHOLDS[shot.light])
            if shot.animal and how in ("aside", "sheet")
            else None,
        )
        for shot, row, how in zip(shots[first:], rows, fate, strict=True)
        if shot.animal is not None and row.news is not None
    ]


def both(shots: Sequence[Shot], kind: str, camera: int) -> tuple[list[Frame], list[Frame]]:
    """Before and after: of the same later frames, without a tag and with the tags of the first."""
    right = [i for i in tagged(shots) if shots[i].deer is None]
    untaught = later(shots, (), f"{kind}, untaught", camera)
    return untaught, later(shots, right, f"{kind}, taught", camera)


HEAD = (
    "scenes",
    "with a deer",
    "empty",
    "kept",
    "kept, taught",
    "empties that go",
    "taught",
    "at 99% kept",
    "taught",
    "keys per 100 bursts",
    "taught",
)


def rows(seed: int = 60_000, n: int = 4) -> list[str]:
    """The section as Markdown."""
    told = (
        f"**What tags teach.** {n} cameras of each kind, 140 triggers of three frames, a fifth of "
        f"them by a deer. The first {TAGS} frames are tagged rightly; the visits after them come "
        "in later, on a card of their own. *Kept*: neither set aside nor on a whole card's sheet. "
        "*That go*: set aside, or on that sheet. *At 99% kept*: with one threshold for all cameras "
        "of the kind that keeps so many, where what waits for a look counts as kept. *Keys*: "
        "bursts of which anything is left on Sort, each of which takes one key. *Harder*: "
        "leaves of two looks that flutter, bending grass, far trees before gaps of sky."
    )
    found = {
        kind: [both(list(render(seed + i)), kind, i) for i in range(n)]
        for kind, render in KINDS.items()
    }
    gone = [f.lost for some in found.values() for pair in some for k in pair for f in k if f.lost]
    lines = [line for kind, some in found.items() for line in _kind(kind, some)]
    return [told, "", *_table(HEAD, lines), *lost("taught", gone), *_harm(seed)]


def _kind(kind: str, found: Sequence[tuple[list[Frame], list[Frame]]]) -> Iterator[list[str]]:
    before, after = ([frame for pair in found for frame in pair[k]] for k in (0, 1))
    keys = [f"{np.mean([_keys(pair[k]) for pair in found]):.0f}" for k in (0, 1)]
    yield [*_line(f"**{kind}**", before, after), *keys]
    for light in ("colour", "infrared"):
        some = ([f for f in frames if f.light == light] for frames in (before, after))
        yield [*_line(f"\u00b7 {light.replace('colour', 'color')}", *some), "", ""]


def _keys(camera: Sequence[Frame]) -> float:
    """Of a hundred bursts, how many are listed with one picture at least: each takes a key."""
    bursts = {f.burst for f in camera}
    return 100 * len({f.burst for f in camera if not f.go}) / max(len(bursts), 1)


def _line(name: str, before: Sequence[Frame], after: Sequence[Frame]) -> list[str]:
    deer, empty = ([sum(f.animal == there for f in before)] for there in (True, False))
    kept = [_percent(1 - _gone(frames, True)) for frames in (before, after)]
    go = [_percent(_gone(frames, False)) for frames in (before, after)]
    at = [_percent(_at(frames, 0.99)) for frames in (before, after)]
    return [name, str(deer[0]), str(empty[0]), *kept, *go, *at]


def _gone(frames: Sequence[Frame], animal: bool) -> float:
    return float(np.mean([f.go for f in frames if f.animal == animal]))


def _at(frames: Sequence[Frame], kept: float) -> float:
    animals, empties = (
        np.array([f.over for f in frames if f.animal == there]) for there in (True, False)
    )
    return float(np.mean(empties < np.quantile(animals, 1 - kept, method="lower")))


def _harm(seed: int) -> list[str]:
    """Deer that come back to one spot, taught, and taught with one visit tagged wrongly."""
    lines = []
    for name, about in SPOTS.items():
        found = []
        for light, wind in (("infrared", 0.3), ("colour", 0.3), ("infrared", 2.5), ("colour", 2.5)):
            shots = list(spot(seed, about, light, wind, n=110))
            right = [i for i in tagged(shots) if shots[i].deer is None]
            wrong = next((s.burst for s in shots if s.deer is not None), -1)
            slip = [i for i in tagged(shots) if shots[i].burst == wrong]
            found.append([later(shots, nothing) for nothing in ((), right, [*right, *slip])])
        cells = []
        for k in range(3):
            frames = [f for per in found for f in per[k]]
            deer = [f for f in frames if f.animal]
            cells += [sum(f.go and not f.sheet for f in deer), sum(f.sheet for f in deer)]
        lines.append([name, str(len(deer)), *map(str, cells)])
    head = (
        "the deer", "its frames", "set aside", "on the sheet", "set aside, taught", "on the sheet",
        "set aside, one visit tagged wrongly", "on the sheet",
    )  # fmt: skip
    told = (
        "**What must never be set aside**, taught: a deer that comes back to one spot, on four "
        "cameras of 110 triggers each (calm and windy, by day and by night); its frames behind the "
        "tagged ones."
    )
    return [told, "", *_table(head, lines)]


def _percent(share: float) -> str:
    return f"{share:.1%}"


def _table(head: Sequence[str], lines: Iterable[Sequence[str]]) -> list[str]:
    rows = [f"| {' | '.join(line)} |" for line in lines]
    return [f"| {' | '.join(head)} |", "|---" * len(head) + "|", *rows, ""]


if __name__ == "__main__":
    print("\n".join(rows()))
