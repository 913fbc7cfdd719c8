"""What a frame shows that its camera's other frames do not: glances in, rows of `changes` out."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.come_and_go import come_and_go
from camsign.pixels.glance import unpack
from camsign.pixels.hue import hue_of
from camsign.pixels.news import News, news
from camsign.pixels.news_box import NewsBox, strongest
from camsign.pixels.opencv import opencv
from camsign.pixels.patches import APART
from camsign.pixels.planes import FramePlanes, Plane, bursts_of, common_middle, planes_of
from camsign.pixels.steady import moves
from camsign.pixels.taught import learned_from
from camsign.pixels.travel import travel_of
from camsign.pixels.unfit import HAZE, fitness, lying, noisy, unfit, usual_detail

WEAKEST = 0.6
"""Below this much news no region is given."""

CLEAR = 1.2
"""Regions with less news suggest no travel, and less of another hue is not outlined."""

QUIET = 0.25
"""What this share of a view's frames do not exceed is its unrest: news counts against it."""

SELDOM = 0.25
"""What is rare counts so much as what is fresh."""

SURELY = 4.8
"""What is rarer than this counts in full, and quickly less below: branches make much of it."""

TOO_FEW = "too few to compare"
"""The reason where there are no other pictures to judge a frame by."""

MOST_UNREST = 2.0
"""More is not taken for unrest: most of a feeding place's frames show animals."""


@dataclass(frozen=True, slots=True)
class Change:
    """What is new in a frame. `news` is the number that scores are made of; None: cannot be said.

    It is that of the strongest frame of its burst: a burst goes as a whole or stays. `own`: the
    frame's own. The box is given as shares of the picture's width and height from the upper left,
    `size` as a share of its area; None where nothing is new. `way`: "left" or "right", the same for
    the whole burst, with `way_steady` 0..1. `veiled`: 0..1, how much of the camera's usual fine
    detail is missing (fog, a wet or dirty lens, blur, or a covered view). `cant_judge`: why the
    frame cannot be judged, None if it can; its `news` is None then. `comes_back`: its burst shows a
    thing that most of the pictures do not, or a patch much lighter or darker than any of them, or
    most of its view show a thing that comes and goes: if it looks empty, it wants a look. `taught`:
    how many bursts of that view a person had tagged as nothing, if enough to learn from; else 0.
    """

    frame: str
    news: float | None
    own: float | None
    box_x: float | None
    box_y: float | None
    box_width: float | None
    box_height: float | None
    size: float | None
    contrast: float | None
    way: str | None
    way_steady: float | None
    veiled: float | None
    cant_judge: str | None
    comes_back: bool
    taught: int = 0


@dataclass(frozen=True, slots=True)
class Glanced:
    """A frame as it is taken in: `at` seconds since any instant, its burst's id, its glance, and
    the JSON text of its look's numbers. nothing: a person tagged it as nothing. asked: it is to be
    compared; else it only shows what is nothing."""

    frame: str
    at: float
    burst: str
    glance: bytes
    numbers: str = "{}"
    nothing: bool = False
    asked: bool = True


def changes(frames: Sequence[Glanced]) -> list[Change]:
    """Compare the frames of one deployment and light class, given in order of time.

    The same frames give the same rows, whatever the machine's number of cores. Pictures of another
    shape than most, or without a glance, get a row that says nothing.
    """
    grays, between = grays_of(frames)
    middle = common_middle(grays.values())
    numbers = {b: n for n, b in enumerate(dict.fromkeys(f.burst for f in frames))}
    seen = {
        i: FramePlanes(f.at, numbers[f.burst], planes_of(grays[i], middle, _hue(f, between)))
        for i, f in enumerate(frames)
        if i in grays
    }
    rows = {i: replace(_nothing(f.frame), cant_judge=TOO_FEW) for i, f in enumerate(frames)}
    detail = {i: float(s.planes.grain.std()) for i, s in seen.items()}
    usual = float(np.median(list(detail.values()))) if detail else 0.0
    reasons = _reasons(seen, grays)
    for view in _views(seen):
        for i, row in _of_view(view, seen, frames):
            if why := reasons.get(i) or (TOO_FEW if row.news is None else None):
                row = replace(row, news=None, cant_judge=why)
            veiled = float(np.clip(1.5 * (1 - detail[i] / max(usual, 1e-6)) - 0.25, 0, 1))
            rows[i] = replace(_in_whole(row, between), veiled=round(veiled, 3))
    return [rows[i] for i, f in enumerate(frames) if f.asked]


def _hue(frame: Glanced, between: tuple[float, float]) -> Plane | None:
    hue = hue_of(frame.glance)
    if hue is None:
        return None
    top, bottom = (round(share * len(hue), 3) for share in between)
    hue = hue[math.ceil(top) : math.floor(bottom)]
    return hue if hue.size else None


def _reasons(seen: dict[int, FramePlanes], grays: dict[int, NDArray[np.uint8]]) -> dict[int, str]:
    """Say of the frames that cannot be judged why."""
    order = list(seen)
    bursts = [[order[k] for k in b] for b in bursts_of([seen[i] for i in order])]
    out = {i: "noise" for burst in bursts if noisy([grays[i] for i in burst]) for i in burst}
    found = {i: fitness(grays[i], s.planes.grain) for i, s in seen.items()}
    clear = [f for i, f in found.items() if i not in out] or list(found.values())
    if clear:
        usual, low = usual_detail(clear), float(np.median([f.low for f in clear]))
        why = {i: unfit(f, usual) for i, f in found.items()}
        middles = [burst[len(burst) // 2] for burst in bursts]
        snow = lying([(seen[i].at, why[i], found[i]) for i in middles], low)
        for k, burst in enumerate(bursts):
            hidden = {HAZE} if k in snow else set()
            out |= {i: said for i in burst if (said := why[i]) and said not in hidden}
    return out


def _in_whole(row: Change, between: tuple[float, float]) -> Change:
    """Give a box between the strips as a box in the whole picture."""
    if row.box_y is None or row.box_height is None or row.size is None:
        return row
    start, share = between[0], between[1] - between[0]
    return replace(
        row,
        box_y=round(start + row.box_y * share, 4),
        box_height=round(row.box_height * share, 4),
        size=round(row.size * share, 5),
    )


def grays_of(
    frames: Sequence[Glanced],
) -> tuple[dict[int, NDArray[np.uint8]], tuple[float, float]]:
    """Give the glances of the usual shape, by index, without the strips that most of them have.

    And between which shares of the picture's height they lie.
    """
    found = {i: g for i, f in enumerate(frames) if (g := unpack(f.glance)) is not None}
    if not found:
        return {}, (0.0, 1.0)
    shapes = [g.shape for g in found.values()]
    usual = max(sorted(set(shapes)), key=shapes.count)
    top, bottom = usual_strips([f.numbers for f in frames])
    rows = usual[0]
    cut = slice(-(-int(rows * top * 1000) // 1000), rows - int(np.ceil(rows * bottom)))
    grays = {i: np.ascontiguousarray(g[cut]) for i, g in found.items() if g.shape == usual}
    return grays, (cut.start / rows, cut.stop / rows)


def usual_strips(numbers: Sequence[str]) -> tuple[float, float]:
    """Give the heights of the info strips as shares, as one picture in five at least shows them.

    A strip over a dark scene has no edge, so not every picture shows it.
    """
    out = []
    parsed: list[dict[str, Any]] = [json.loads(n) for n in numbers]
    for name in ("strip_top", "strip_bottom"):
        shares = [p.get(name, 0) / max(p.get("rows", 1), 1) for p in parsed]
        there = [s for s in shares if s > 0]
        often = len(there) * 5 >= len(shares) > 0
        out.append(float(np.median(there)) if often else 0.0)
    return out[0], out[1]


def _views(seen: dict[int, FramePlanes]) -> Iterator[list[int]]:
    """Part the frames where the camera's view changed: what it saw before explains nothing."""
    order = list(seen)
    middles = [b[len(b) // 2] for b in bursts_of([seen[i] for i in order])]
    starts = [0]
    if len(middles) >= 6:
        starts += [middles[m.at] for m in moves([seen[order[k]].planes.grain for k in middles])]
    for a, b in zip(starts, [*starts[1:], len(order)], strict=True):
        yield _whole_bursts(order, seen, a, b)


def _whole_bursts(order: list[int], seen: dict[int, FramePlanes], a: int, b: int) -> list[int]:
    """Give the frames whose burst begins in [a, b)."""
    first: dict[int, int] = {}
    for k, i in enumerate(order):
        first.setdefault(seen[i].burst, k)
    return [i for i in order if a <= first[seen[i].burst] < b]


def _of_view(
    view: list[int], seen: dict[int, FramePlanes], frames: Sequence[Glanced]
) -> Iterator[tuple[int, Change]]:
    known = [seen[i] for i in view if frames[i].nothing]
    view = [i for i in view if frames[i].asked]
    if not view:
        return
    inside = [seen[i] for i in view]
    parts = [_parts(one) for one in news(inside, known)]
    held, taught = come_and_go(inside), learned_from(known)
    found = _calmed([None if part is None else part.fresh for part in parts])
    for burst in bursts_of(inside):
        regions, mine = [found[k] for k in burst], [p for k in burst if (p := parts[k])]
        travel, most = travel_of(regions, CLEAR), _most(regions, mine)
        thing = inside[burst[0]].burst in held or any(part.thing for part in mine)
        for k, region in zip(burst, regions, strict=True):
            row = _row(frames[view[k]].frame, region, parts[k], most)
            row = replace(row, comes_back=thing, taught=taught)
            if travel is not None:
                row = replace(row, way=travel.way, way_steady=travel.steady)
            yield view[k], row


@dataclass(frozen=True, slots=True)
class _Parts:
    """What is fresh in a frame, rare and of another hue, each where it is strongest; None if it
    cannot be more than what is fresh. hue: the news of the last. thing: it comes back."""

    fresh: NewsBox
    seldom: NewsBox | None
    hued: NewsBox | None
    hue: float
    thing: bool


def _parts(found: News | None) -> _Parts | None:
    if found is None:
        return None
    fresh = strongest(found.fresh, WEAKEST)
    hue = 0.0 if found.hue is None else float(found.hue.max())
    thing = found.apart >= APART or (found.rare is not None and found.rare.thing)
    return _Parts(fresh, _seldom(found, fresh), _hued(found, fresh, hue), hue, thing)


def _seldom(found: News, fresh: NewsBox) -> NewsBox | None:
    """Give the region that is rare, at the frame's own scale."""
    if found.rare is None:
        return None
    most = float(found.rare.map.max())
    weight = SELDOM * min(most / SURELY, 1.0) ** 3
    return _where_more(np.float32(weight) * found.rare.map, weight * most, found, fresh)


def _hued(found: News, fresh: NewsBox, most: float) -> NewsBox | None:
    if found.hue is None or most < CLEAR:  # any picture's hue lies apart a little
        return None
    return _where_more(found.hue, most, found, fresh)


def _where_more(
    smaller: NDArray[np.float32], most: float, found: News, fresh: NewsBox
) -> NewsBox | None:
    if most * (1 + MOST_UNREST) <= fresh.news:  # also where unrest has calmed that
        return None
    return strongest(opencv().resize(smaller, found.fresh.shape[::-1]), WEAKEST)


def _most(regions: Sequence[NewsBox | None], burst: Sequence[_Parts]) -> float:
    """Give a burst's news: the most of any frame, or of another hue in two of them."""
    hues = sorted((part.hue for part in burst), reverse=True)[:2]
    return max([*(r.news for r in regions if r is not None), *hues[-1:]], default=0.0)


def _calmed(found: Sequence[NewsBox | None]) -> list[NewsBox | None]:
    """Weigh news against the unrest of its view: moving shadows, leaves, rain are in all frames."""
    there = [r.news for r in found if r is not None]
    unrest = min(float(np.quantile(there, QUIET)), MOST_UNREST) if there else 0.0
    return [r and replace(r, news=r.news / (1 + unrest)) for r in found]


def _row(frame: str, fresh: NewsBox | None, parts: _Parts | None, most: float) -> Change:
    """Say what is new in a frame, by what is strongest of it: fresh, rare or of another hue."""
    if fresh is None or parts is None:
        return _nothing(frame)
    own = max(fresh.news, parts.hue)
    row = replace(_nothing(frame), news=round(most, 4), own=round(own, 4))
    shown = [box for box in (fresh, parts.seldom, parts.hued) if box is not None]
    region = max(shown, key=lambda box: box.news)
    if region.news < WEAKEST:
        return row
    return replace(
        row,
        box_x=round(region.x, 4),
        box_y=round(region.y, 4),
        box_width=round(region.width, 4),
        box_height=round(region.height, 4),
        size=round(region.size, 5),
        contrast=round(region.contrast, 3),
    )


def _nothing(frame: str) -> Change:
    return Change(frame, *(None,) * 12, comes_back=False)
