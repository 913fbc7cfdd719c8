"""Which ways lead into a bed in the morning and out in the evening, and which are used most.

A way is a camera's where it hung, and another once it is moved. Who goes out past it in the
evening comes in past it in the morning, so both ends say how much it is used; and a camera that
hung for two weeks pictures fewer than one that hung for ten, so passes are counted by the days it
watched.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from camsign.answers.beds_input import BedsInput
from camsign.answers.beds_known import Known, area_at, mask_of
from camsign.answers.detections import SURE, UNIDENTIFIED
from camsign.answers.result import Figure, figure, listed
from camsign.arrays import Bools, Times
from camsign.stats.beds_evidence import EVENING, IN, MORNING, OUT
from camsign.stats.circular import directions, no_narrower, readings_half_width_deg
from camsign.stats.estimate import Estimate

# A camera that watched few days says little: it counts as if it had watched so many more, with one
# pass among them (common practice, no source).
MORE_DAYS, MORE_PASSES = 20, 1


@dataclass(frozen=True, slots=True)
class Way:
    """A way in or out at one camera: mean travel [deg], over `n` directions, one a buck and day.

    `per_10_days`: passes out by evening and in by morning together, in ten days it watched, whether
    travel was told or not; a camera that watched few days is drawn in. One that was moved has a way
    at each `deployment`.
    """

    camera: str
    bearing_deg: Figure
    n: int
    per_10_days: float
    deployment: str = ""


@dataclass(frozen=True, slots=True)
class Ways:
    """Ways in by morning, out by evening, those most used first."""

    morning: tuple[Way, ...]
    evening: tuple[Way, ...]


def ways_of(known: Known, area_id: str, asked: set[str], everyone: bool, wanted: Times) -> Ways:
    """Give the ways of the asked bucks at an area in the wanted days.

    `everyone`: they are all bucks, so that one without a name is one of them.
    """
    rows = _passes(known, area_id, asked, wanted)
    used = _used(known, area_id, asked, everyone, wanted)
    names: dict[str, str] = {}
    for read, _ in known.seasons:
        names |= dict(zip(read.reach.deployments, read.reach.cameras, strict=True))
    morning, evening = (
        [(at, deg) for *ends, at, deg in rows if ends == [*kind]]
        for kind in ((MORNING, IN), (EVENING, OUT))
    )
    return Ways(_way(morning, used, names), _way(evening, used, names))


# How often a camera pictures a buck that takes its way; no source.
PICTURED = 0.7
# What a picture of the other end of the day says of a way, of one of this end; no source.
OTHER_END = 0.5
# A way nobody has seen is as likely as one picture's worth of the known ones, at the least.
UNKNOWN_WEIGHT = 1.0


@dataclass(frozen=True, slots=True)
class WayShare:
    """A camera's way as it is gone at one end of the day: heading [deg], and its share of walks.

    `seen`: someone was seen to go it then; else it is a way of the other end, turned around.
    """

    camera: str
    bearing_deg: Figure
    share: float
    seen: bool


def shares_of(ways: Ways, days: float, out: bool) -> tuple[tuple[WayShare, ...], float]:
    """Give how often each way is gone out by evening, or in by morning, and the share unseen.

    `days`: bedded there, all bucks together.
    """
    found = walked(ways, out)
    unseen = unseen_weight(ways, days, out)
    total = sum(n for _, n in found.values()) + unseen
    seen = {way.deployment for way in (ways.evening if out else ways.morning)}
    names = {way.deployment: way.camera for way in (*ways.evening, *ways.morning)}
    shares = [
        WayShare(names[at], bearing, n / total, at in seen) for at, (bearing, n) in found.items()
    ]
    return tuple(sorted(shares, key=lambda one: -one.share)), unseen / total


def walked(ways: Ways, out: bool) -> dict[str, tuple[Figure, float]]:
    """Give by deployment the heading of a way out by evening, or in by morning, and how many
    pictures say so: those of the other end, turned around, count half.

    The model of beds says on which days he bedded, and nothing of which way he takes. That he uses
    his trails both ways it holds too, but not so firmly that each end may count as the other.
    """
    here, there = (ways.evening, ways.morning) if out else (ways.morning, ways.evening)
    found = {way.deployment: (way.bearing_deg, float(way.n)) for way in here}
    for way in there:
        ends = (way.bearing_deg.value, way.bearing_deg.low, way.bearing_deg.high)
        back = figure(Estimate(*(None if deg is None else (deg + 180) % 360 for deg in ends)))
        bearing, n = found.get(way.deployment, (back, 0.0))
        found[way.deployment] = back if bearing.value is None else bearing, n + OTHER_END * way.n
    return found


def unseen_weight(ways: Ways, days: float, out: bool = True) -> float:
    """How many pictures of ways are missing: he bedded on more days than he was seen to leave.

    A camera sees its own way alone. Whoever bedded on so many days left as often, and was pictured
    on PICTURED of the ways that have a camera; the rest went where none hangs. At least one.
    """
    here, there = (ways.evening, ways.morning) if out else (ways.morning, ways.evening)
    seen = sum(w.n for w in here) + OTHER_END * sum(w.n for w in there)
    return max(UNKNOWN_WEIGHT, PICTURED * (1 + OTHER_END) * days - seen)


RARELY = 0.05
RUBS = "rubs"
TIMES = 20  # ways are told in so many parts, so that they make a whole; our choice


def ways_in_words(shares: Sequence[tuple[str, float]], unseen: float) -> str:
    """Name ways by how often he takes them, the most used first; the parts make 100%.

    Args:
        shares: a camera's name, or `4 rubs` that lead out one way; the share of his walks, 0 to 1.
        unseen: the share of walks that no way known accounts for; with the others it makes 1.
    """
    rubs = [share for name, share in shares if name.endswith(RUBS)]
    cameras: dict[str, float] = {}
    for name, share in shares:
        if not name.endswith(RUBS):
            cameras[name] = cameras.get(name, 0.0) + share
    told = [(f"past {name}", share) for name, share in cameras.items() if share >= RARELY]
    few = [(name, share) for name, share in cameras.items() if share < RARELY]
    told += [(f"past {listed([n for n, _ in few])}", sum(s for _, s in few))] if few else []
    told += [("the way rubs point", sum(rubs))] if rubs else []
    told.append(("where you have no camera", unseen))
    parts = _parts([share for _, share in told])
    ways = sorted(zip(parts, [way for way, _ in told], strict=True), key=lambda one: -one[0])
    (most, first), *rest = ways
    often = "nearly always" if most == TIMES else f"about {most / TIMES:.0%} of the time"
    more = [f"{f'{n / TIMES:.0%}' if n else 'rarely'} {way}" for n, way in rest]
    return ", ".join([f"{often} {first}", *more])


def _parts(shares: Sequence[float]) -> list[int]:
    """Split TIMES by shares that make 1, to whole times: the largest remainders are rounded up."""
    exact = [TIMES * share for share in shares]
    parts = [int(n) for n in exact]
    by_rest = sorted(range(len(parts)), key=lambda i: parts[i] - exact[i])
    for i in by_rest[: TIMES - sum(parts)]:
        parts[i] += 1
    return parts


def _passes(
    known: Known, area_id: str, asked: set[str], wanted: Times
) -> list[tuple[int, int, str, float]]:
    """Give end, way, deployment and travel [deg] of each end's deciding look, a buck and day."""
    found = []
    for read, _ in known.seasons:
        area, mask, looks = area_at(read, area_id), mask_of(read, wanted), read.evidence.looks
        for i in (looks.area == area).nonzero()[0] if area is not None else ():
            row = read.look_rows[i]
            if mask[looks.day[i]] and read.bucks.ids[looks.buck[i]] in asked:
                at = read.reach.deployments[read.seen.at[row]]
                travel = float(read.seen.travel_deg[row])
                found.append((int(looks.end[i]), int(looks.way[i]), at, travel))
    return found


def _used(
    known: Known, area_id: str, asked: set[str], everyone: bool, wanted: Times
) -> dict[str, float]:
    """Give passes in ten days at each deployment in reach of the area."""
    passes: dict[str, int] = {}
    days: dict[str, int] = {}
    for read, _ in known.seasons:
        area, mask = area_at(read, area_id), mask_of(read, wanted)
        if area is None:
            continue
        for at in read.reached[:, area].nonzero()[0].tolist():
            one = read.reach.deployments[at]
            days[one] = days.get(one, 0) + int((read.watched[:, at] & mask).sum())
            many = _at_camera(read, area, at, asked, everyone, mask)
            passes[one] = passes.get(one, 0) + many
    return {d: 10 * (passes[d] + MORE_PASSES) / (days[d] + MORE_DAYS) for d in passes}


def _at_camera(
    read: BedsInput, area: int, at: int, asked: set[str], everyone: bool, mask: Bools
) -> int:
    """Count the buck and day ends at which a camera pictured one that did not go the wrong way."""
    ends, seen = read.ends, read.seen
    mine = (ends.area == area) & (seen.at[ends.row] == at)
    mine &= ends.way != np.where(ends.end == EVENING, IN, OUT)
    row, end = ends.row[mine], ends.end[mine]
    day = (seen.day[row] - np.datetime64(read.first)).astype(int)
    numbers = [i for i, buck in enumerate(read.bucks.ids) if buck in asked]
    his = (seen.apart[row] == SURE) & np.isin(seen.buck[row], numbers)
    if everyone:
        his |= seen.apart[row] == UNIDENTIFIED
    his &= mask[np.clip(day, 0, len(mask) - 1)]
    who = np.where(seen.apart[row] == SURE, seen.buck[row], -1)
    return len(np.unique(np.stack([who, day, end])[:, his], axis=1).T)


def _way(
    passes: Sequence[tuple[str, float]], used: dict[str, float], names: dict[str, str]
) -> tuple[Way, ...]:
    """Give the mean travel at each deployment, no narrower than its readings allow."""
    each: dict[str, list[float]] = {}
    for at, travel in passes:
        each.setdefault(at, []).append(travel)
    found = []
    for at, travels in each.items():
        mean = directions(travels)
        bearing = figure(no_narrower(mean, readings_half_width_deg(travels)))
        found.append(Way(names[at], bearing, mean.n, used.get(at, 0.0), at))
    return tuple(sorted(found, key=lambda way: (-way.per_10_days, -way.n)))
