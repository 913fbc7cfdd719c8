"""Where to hang the next camera? What ten days of pictures could change in the ranking.

The value of looking before one decides: how much better the best stand is expected to be once the
pictures are in (H. Raiffa and R. Schlaifer, Applied statistical decision theory (1961), the
expected value of sample information).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from typing import ClassVar

import numpy as np

from camsign.answers.odds import whole_tries
from camsign.answers.result import SPARE, Answer, Figure, Watch, listed, reasons
from camsign.answers.ways import PICTURED
from camsign.arrays import Floats
from camsign.errors import UsageError
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.sits.habits import BedArea, Habits, KnownWay
from camsign.sits.plane import Plane, seed_at
from camsign.sits.rows import bed_draws, chances, old_pictures
from camsign.sits.scenes import SEED, Setting
from camsign.sits.tonight import known_of
from camsign.units import counted
from camsign.zones import to_utc

Key = tuple[str, str]

USUAL_DAYS = 10
TRIED = 200
# A camera hangs so far outside the bed's edge [m], clear of the bed itself; common practice.
OFF_EDGE_M = 60.0
# A buck who beds in an area on fewer days is not named there.
OFTEN = 0.1
# Pictures worth less than this much of a chance are not worth a camera; our choice.
LEAST = 0.001
RANKED = (
    "ranked by worth: how much more often you should get a mature buck in range, if you sit where "
    "the pictures say"
)
ONE_STAND = "Can't tell yet: you have only one stand, so there's nothing to rank. Add another."
BED, STILL, WAYS = "who beds there", "who still beds there", "which way he leaves"
METHOD = (
    "200 outcomes of so many days of pictures, drawn from what is left open now; a buck that beds "
    "there is pictured on 7 days in 10 (no source). For each the stands are ranked anew, wind "
    "aside, and the best one then is compared with the best one now (expected value of sample "
    "information, Raiffa and Schlaifer 1961)"
)


@dataclass(frozen=True, slots=True)
class Hang:
    """One place to hang a camera: by which bedding area, what it would tell, where (lat, lon
    [deg]). `gain`: how much the chance at the best stand is expected to rise, 0 to 1, by which they
    are ranked; `changes`: how likely another stand becomes the best, 0 to 1. `cameras`: those that
    hang there when the day ends; `down`: those that came down on it.
    `advice`: what to do there and what for; `stays`: a camera hangs there already;
    `known`: who bedded there is known.
    """

    rank: int
    area: str
    area_id: str
    tells: str
    lat: float
    lon: float
    gain: float
    changes: float
    cameras: tuple[str, ...]
    why: tuple[str, ...]
    advice: str = field(default="", metadata=SPARE)
    stays: bool = field(default=False, metadata=SPARE)
    known: bool = field(default=False, metadata=SPARE)
    down: tuple[str, ...] = field(default=(), metadata=SPARE)

    @property
    def would_tell(self) -> str:
        """What it would tell, for people."""
        return STILL if self.known and self.tells == BED else self.tells

    @property
    def worth(self) -> str:
        """How much oftener a mature buck comes in range by its pictures, for people."""
        return f"about once more in {self.sits:,} sits" if self.sits else "hardly more often"

    @property
    def sits(self) -> int | None:
        """In how many sits that makes one more; None where in hardly any."""
        return None if self.gain < LEAST / 2 else max(whole_tries(1 / self.gain), 2)


@dataclass(frozen=True, slots=True)
class HangNext(Answer):
    """Places for a camera, those worth most first; `best`: the stand now, wind aside."""

    TABLE: ClassVar[str] = "places"
    ROW: ClassVar[type] = Hang

    said: str
    best: str
    chance: Figure
    places: tuple[Hang, ...]
    watch: Watch
    method: str
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Open:
    """What is left open, in equally likely draws: `beds` by area and buck, `ways` by area (draws x
    ways, and the counts they rest on); `passes` by stand, area and buck, one a way.
    """

    stands: tuple[str, ...]
    beds: Mapping[Key, Floats]
    ways: Mapping[str, Floats]
    counts: Mapping[str, Floats]
    passes: Mapping[tuple[int, str, str], Floats]

    def means(self) -> tuple[dict[Key, float], dict[str, Floats]]:
        """What is believed now: the chance of each bed, the shares of each area's ways."""
        beds = {key: float(draws.mean()) for key, draws in self.beds.items()}
        return beds, {area: draws.mean(0) for area, draws in self.ways.items()}


def hang_next(
    session: Session, day: date, morning: bool = False, days: int = USUAL_DAYS
) -> HangNext:
    """Rank places for a camera that hangs so many `days` by what they would change in the ranking
    of a local day's evening, or morning.

    Raises:
        UsageError: no home, no stand, or no bedding area.
    """
    if not 1 <= days <= 120:
        raise UsageError(f"{days} days is not between 1 and 120", "such as --days 10")
    known = known_of(session, day, morning, ground=False)
    habits = known.habits
    left = _open(habits, known.settings)
    now = _values(left, *left.means())
    found = [
        _place(
            _hanging(session, area, day),
            day,
            habits,
            known.plane,
            area,
            tells,
            _tried(left, now, area, tells, days),
        )
        for area in habits.areas.values()
        for tells in (BED, WAYS)
        if any(a == area.area_id for a, _ in left.beds)
    ]
    found.sort(key=lambda one: (-one.gain, -one.changes, one.area, one.tells))
    rows = tuple(replace(one, rank=n) for n, one in enumerate(found, 1))
    best = left.stands[int(np.argmax(now))]
    said = (
        _untold(habits) if not left.beds else ONE_STAND if len(left.stands) == 1 else
        _said(rows, days)
    )  # fmt: skip
    return HangNext(
        said, best, Figure(float(now.max()), None, None), rows,
        Watch((), 0, max(habits.watched.values(), default=0), habits.first, habits.last), METHOD,
        reasons(
            RANKED if worth(rows) else None,
            None if left.beds or habits.to_sort else
            old_pictures(habits.stale) if habits.stale else
            "hang cameras at your bedding areas, tag bucks, set their ages",
            f"hanging it may bump deer off {rows[0].area}; that isn't counted" if worth(rows)
            and not rows[0].stays else None,
        ),
    )  # fmt: skip


def _open(habits: Habits, settings: Sequence[Setting]) -> _Open:
    beds: dict[Key, Floats] = {}
    ways: dict[str, Floats] = {}
    counts: dict[str, Floats] = {}
    passes: dict[tuple[int, str, str], Floats] = {}
    for n, setting in enumerate(settings):
        for (area, buck), drawn in setting.entries[0].draws.items():
            passes[n, area, buck] = np.array([one.passes.mean() for _, one in drawn])
            counts[area] = np.array([max(way.n, 0.05) for way, _ in drawn])
    for i, odds in enumerate(habits.odds):
        if odds.area_id in counts:
            rng = np.random.default_rng([SEED, i])
            beds[odds.area_id, odds.buck_id] = bed_draws(rng, odds.lately)
    for i, area in enumerate(counts):
        ways[area] = np.random.default_rng([SEED, 7, i]).dirichlet(counts[area], TRIED)
    return _Open(tuple(s.place.name for s in settings), beds, ways, counts, passes)


def _values(left: _Open, beds: Mapping[Key, float], ways: Mapping[str, Floats]) -> Floats:
    """The chance at each stand that any buck passes, wind aside."""
    missed = np.ones(len(left.stands))
    for (stand, area, buck), passes in left.passes.items():
        missed[stand] *= 1 - beds[area, buck] * float(ways[area] @ passes)
    return 1 - missed


def _tried(left: _Open, now: Floats, at: BedArea, tells: str, days: int) -> tuple[float, float]:
    """How much the best stand is expected to gain, and how often another one becomes the best."""
    rng, area = np.random.default_rng([SEED, *seed_at(at.lat, at.lon), len(tells)]), at.area_id
    beds, ways = left.means()
    first, gains, changed = int(np.argmax(now)), 0.0, 0
    mine = [key for key in left.beds if key[0] == area]
    for n in range(TRIED):
        new_beds, new_ways = dict(beds), dict(ways)
        if tells == BED:
            for key in mine:
                new_beds[key] = _learned(rng, left.beds[key], n, days)
        else:
            truth = left.ways[area][n]
            most = days * PICTURED * sum(beds[key] for key in mine)
            seen = rng.multinomial(rng.poisson(most), truth / truth.sum())
            after = left.counts[area] + seen
            new_ways[area] = after / after.sum()
        values = _values(left, new_beds, new_ways)
        gains += float(values.max() - values[first])
        changed += int(values[first] < values.max() - 1e-9)
    return gains / TRIED, changed / TRIED


def _learned(rng: np.random.Generator, draws: Floats, n: int, days: int) -> float:
    """What is believed of a share after so many days, if the n-th draw is the truth."""
    seen = int(rng.binomial(days, draws[n % len(draws)] * PICTURED))
    shown = np.clip(draws * PICTURED, 1e-9, 1 - 1e-9)
    log = seen * np.log(shown) + (days - seen) * np.log1p(-shown)
    weight = np.exp(log - log.max())
    return float((weight * draws).sum() / weight.sum())


def _hanging(session: Session, area: BedArea, day: date) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Name the cameras within reach of an area that hang when a local day ends, and those that came
    down on it."""
    begins, ends = (
        to_utc(datetime.combine(d, time()), session.settings.tz).replace(tzinfo=None)
        for d in (day, day + timedelta(days=1))
    )
    given = {"area": area.area_id, "reach": session.settings.reach_m}
    rows = run_sql(
        session.con, __file__, "hanging.sql", **given, begins=begins, ends=ends
    ).fetchall()
    up, down = ([camera for camera, hangs in rows if hangs is want] for want in (True, False))
    return tuple(up), tuple(down)


def _place(
    here: tuple[tuple[str, ...], tuple[str, ...]], day: date, habits: Habits, plane: Plane,
    area: BedArea, tells: str, tried: tuple[float, float],
) -> Hang:  # fmt: skip
    cameras, down = here
    point, side = _spot(habits, area, tells, cameras)
    ((lat, lon),) = plane.lat_lon(np.array([point]))
    watched = habits.watched.get(area.area_id, 0)
    gain, changes = tried
    ways = habits.ways.get(area.area_id, ())
    return Hang(
        0, area.name, area.area_id, tells, float(lat), float(lon), gain, changes, cameras,
        reasons(
            "no camera has watched it: nobody knows who beds there" if not watched else
            f"covered on {counted(watched, 'day')} this season",
            f"{', '.join(cameras)} {'hangs' if len(cameras) == 1 else 'hang'} there" if cameras
            else None,
            f"{', '.join(down)} came down there on {day}" if down else None,
            side,
            f"ways out known: {_ways(ways)}" if tells == WAYS and ways else None,
        ),
        *_advice(habits, area, tells, here, day), watched > 0, down,
    )  # fmt: skip


def _ways(known: Sequence[KnownWay]) -> str:
    """Say where he is known to come by: `past CAM02, 2 ways that rubs point (4 and 3 rubs)`."""
    rubs = [str(way.rubs) for way in known if way.rubs]
    lines = "the way rubs point" if len(rubs) == 1 else f"{len(rubs)} ways that rubs point"
    told = [f"past {way.camera}" for way in known if not way.rubs]
    return ", ".join([*told, *([f"{lines} ({listed(rubs)} rubs)"] if rubs else [])])


def _untold(habits: Habits) -> str:
    """Say why no place can be named."""
    why = (
        f"this season's pictures, up to {habits.to_sort}, aren't sorted" if habits.to_sort else
        "no cards from this season are loaded" if habits.stale else
        "no mature buck is known to bed near a stand"
    )  # fmt: skip
    return f"Can't tell yet where to hang a camera: {why}."


def _advice(
    habits: Habits, area: BedArea, tells: str, here: tuple[Sequence[str], Sequence[str]], day: date
) -> tuple[str, bool]:
    """Say what to do and what for, and whether it is to leave a camera where it hangs: who beds on
    watched ground is known, so a camera there shows whether he still does.
    """
    if tells == WAYS or not habits.watched.get(area.area_id):
        return f"Hang one by {area.name}, to learn {tells}", False
    his = [o for o in habits.odds if o.area_id == area.area_id and (o.lately.value or 0) >= OFTEN]
    names = [o.buck for o in sorted(his, key=lambda o: -(o.lately.value or 0))]
    who = "the same bucks" if len(names) > 2 else " or ".join(names) or "a buck"
    still = f"to see if {who} still {'bed' if len(names) > 2 else 'beds'} there"
    camera = next((way.camera for way in habits.ways.get(area.area_id, ())), None)
    hanging, down = here
    if camera in down:
        return f"Hang {camera} again by {area.name}, where it came down on {day}, {still}", False
    if camera in hanging:
        return f"Leave {camera} where it is by {area.name}, {still}", True
    if camera is None:
        return f"Hang one by {area.name}, {still}", False
    return f"Put one back where {camera} was, by {area.name}, {still}", False


def _spot(
    habits: Habits, area: BedArea, tells: str, hanging: Sequence[str]
) -> tuple[tuple[float, float], str]:
    """Where to hang it: where rubs lead out, else on the side farthest from the known ways;
    to learn who beds there, on the trail used most."""
    ways = habits.ways.get(area.area_id, ())
    rubs = [w for w in ways if w.rubs]
    if tells == WAYS and rubs:
        return (rubs[0].way.x, rubs[0].way.y), f"hang it where {rubs[0].past} lead out"
    if tells == BED and ways:
        used, most = ways[0], "on the trail used most"
        where = (
            f"hang it where {used.past} lead out" if used.rubs else
            f"leave {used.camera} where it is, {most}" if used.camera in hanging else
            f"hang it where {used.camera} hung, {most}"
        )  # fmt: skip
        return (used.way.x, used.way.y), where
    known = [np.degrees(np.arctan2(w.way.x - area.bed.x, w.way.y - area.bed.y)) for w in ways]
    turns = np.arange(8) * 45.0
    away = [min((abs((t - k + 180) % 360 - 180) for k in known), default=0.0) for t in turns]
    turn = float(turns[int(np.argmax(away))])
    far = area.bed.radius + OFF_EDGE_M
    x = area.bed.x + far * np.sin(np.radians(turn))
    y = area.bed.y + far * np.cos(np.radians(turn))
    if not known:
        return (float(x), float(y)), "hang it on any side: no way out is known"
    words = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")
    return (float(x), float(y)), f"hang it on the {words[int(turn // 45)]} side"


def worth(rows: Sequence[Hang]) -> bool:
    """Whether any of the places would change the ranking so much that it is worth saying."""
    return bool(rows) and rows[0].gain >= LEAST


def _said(rows: Sequence[Hang], days: int) -> str:
    if not worth(rows):
        return "You don't need another camera for this: none would change where you'd sit."
    top = rows[0]
    what = "little change"
    if top.changes:
        what = f"{chances(top.changes)} that it changes which stand is best"
    return f"{top.advice}: in {days} days, {what}.{_rest(rows)}"


def _rest(rows: Sequence[Hang]) -> str:
    """Say which cameras to leave up besides, and whether one to spare has another place."""
    top, others = rows[0], [row for row in rows[1:] if row.gain >= LEAST]
    keep = next((row for row in others if row.stays), None)
    kept = (
        f" {keep.advice.partition(', to ')[0]}, too."
        if keep and keep.area_id != top.area_id
        else ""
    )
    if not top.stays:
        return kept
    spare = next((row for row in others if not row.stays), None)
    if spare is None:
        return f"{kept} Another camera would change little."
    return f"{kept} With one to spare: {spare.advice[:1].lower()}{spare.advice[1:]}."
