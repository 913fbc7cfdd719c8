"""The audit: every stretch of every deployment judged by the sun, with what would put it right."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

import numpy as np

from camsign.arrays import Bools, Floats, Ints
from camsign.clock.audit_input import AuditInput
from camsign.clock.light import SunTable
from camsign.clock.offset_models import parted, tell
from camsign.clock.outside import (
    SET_BACK_S,
    by_files,
    clock_by_hand,
    gone_back_s,
    maybe_wrong,
    naive,
    nearby,
    odd_offset,
    read_back_s,
    said_and_remedy,
    set_back,
    set_back_s,
    surely_wrong,
    whose,
)
from camsign.clock.resets import OffsetBounds, Placed, place
from camsign.clock.runs import Stretch, with_runs
from camsign.clock.skies import sky, switches
from camsign.clock.stretches import Shots, check_order, one_a_burst, stretch_numbers
from camsign.clock.verdicts import (
    DISAGREES,
    HANG_FIRST,
    IMPOSSIBLE,
    OFF,
    RESET,
    RIGHT,
    SET_BACK,
    TWELVE,
    UNCLEAR,
    WRONG,
    Judged,
    daylight,
    judge,
    unless_it_looks_off,
)
from camsign.errors import quoted
from camsign.logbook.records import Deployment
from camsign.stats.estimate import Estimate
from camsign.units import numbered

# The chance, beforehand, that a clock was set between two cards: common practice, no source.
_SET_ANEW = 0.1
_FEWEST_APART = 20


@dataclass(frozen=True, slots=True)
class Finding:
    """What the audit says of one stretch of a deployment's frames.

    `offset_minutes`: by how much the clock is ahead of right time, as it is read so far [min].
    `clock_from`, `clock_until`: the first and last time that the camera showed in it (naive).
    `frames`, `frames_used` (with a time and a light), `bursts_used`, `dawn_bursts`, `dusk_bursts`
    (within 6° of the horizon) carry the verdict. `step_at` (UTC): since when it is an hour off.
    `place_by_shift_s`: what is added to what a lost stretch showed to give UTC [s]; None where
    nothing fits. `remedy`: what a person can do about it. `up_from`: the day (local) since which it
    would have hung, if the clock of pictures older than its hang is right. `ends`: its first and
    last frame on each card, where another stretch showed the same times.
    """

    deployment: str | None
    camera: str
    clock_from: datetime
    clock_until: datetime
    verdict: str
    offset_minutes: Estimate
    frames: int
    frames_used: int
    bursts_used: int
    dawn_bursts: int
    dusk_bursts: int
    why: str
    drift_minutes_per_week: float | None = None
    step_at: datetime | None = None
    step_minutes: float | None = None
    place_by_shift_s: float | None = None
    whole: bool = False
    order: tuple[str, ...] = ()
    remedy: str = ""
    up_from: date | None = None
    ends: tuple[tuple[str, str], ...] = ()


def audit(read: AuditInput, progress: Callable[[int, int], None] | None = None) -> list[Finding]:
    """Judge all stretches, in the order of cameras and time. Pure: works on what was read."""
    from threadpoolctl import threadpool_limits

    found = []
    # The matrices are small: a second thread spends more time waiting than it saves.
    with threadpool_limits(1, "blas"):
        stretches = with_runs(list(stretches_of(read)))
        for i, stretch in enumerate(stretches):
            found.append(_lost(stretch) if stretch.lost else _with_odd(stretch, _running(stretch)))
            if progress:
                progress(i + 1, len(stretches))
    return found


def stretches_of(read: AuditInput) -> Iterator[Stretch]:
    """Part the frames into stretches: per deployment those of its days, then the lost ones."""
    for i, camera in enumerate(read.cameras):
        mine = read.shots.some(read.shots.camera == i)
        numbers = _numbers_by_card(mine)
        running = list(_running_stretches(read, camera, mine, numbers))
        counts = [s.deployment.deployment for s in running if s.deployment]
        for stretch in running:
            name = stretch.deployment and stretch.deployment.deployment
            yield replace(stretch, whole=counts.count(name or "") == 1)
        lost = (mine.near < 0) & np.isfinite(mine.shown_s)
        for key in np.unique(numbers[lost]):
            yield _lost_stretch(read, camera, mine, numbers, lost & (numbers == key))


def _numbers_by_card(mine: Shots) -> Ints:
    """Stretch numbers of one camera's frames, card after card, never the same for two cards."""
    numbers = np.zeros(len(mine.card), dtype=np.int64)
    start = 0
    for card in np.unique(mine.card):
        which = mine.card == card
        numbers[which] = stretch_numbers(mine.some(which)) + start
        start = int(numbers[which].max()) + 1
    return numbers


def _running_stretches(
    read: AuditInput, camera: str, mine: Shots, numbers: Ints
) -> Iterator[Stretch]:
    """Per deployment: stretches run on from card to card unless the light says otherwise."""
    for near in np.unique(mine.near[mine.near >= 0]):
        which = (mine.near == near) & np.isfinite(mine.read_s)
        parts: list[list[Ints]] = []
        back: list[float] = []
        cards = np.unique(mine.card[which])
        first = [mine.read_s[which & (mine.card == card)].min() for card in cards]
        for card in cards[np.argsort(first, kind="stable")]:
            on_card = which & (mine.card == card)
            for k, number in enumerate(np.unique(numbers[on_card])):
                frames = np.flatnonzero(on_card & (numbers == number))
                front = _in_front(mine, numbers, frames)
                gone = set_back_s(mine.read_s[front], mine.read_s[frames])
                goes_on = k == 0 and parts and gone < SET_BACK_S
                if goes_on and not _set_anew(read.deployments[near], mine, parts[-1], frames):
                    parts[-1].append(frames)
                else:
                    parts.append([frames])
                    back.append(gone)
        for part, gone in zip(parts, back, strict=True):
            shots = mine.some(np.concatenate(part))
            at, by = read_back_s(shots)
            at, by = (0, gone) if gone >= by else (at, by)
            hung, where = read.deployments[near], np.concatenate(part)
            yield Stretch(hung, camera, shots, back_s=by, back_at=at, at=where)


def _in_front(mine: Shots, numbers: Ints, frames: Ints) -> Ints:
    """The stretch of likely date in front of one on its card, whenever its camera hung then: a year
    back, a clock shows the days of its hang of last season."""
    front = (mine.card == mine.card[frames[0]]) & (mine.near >= 0) & np.isfinite(mine.read_s)
    front &= numbers < numbers[frames[0]]
    return np.flatnonzero(front & (numbers == numbers[front].max(initial=-1)))


def _set_anew(deployment: Deployment, mine: Shots, before: list[Ints], behind: Ints) -> bool:
    """Whether the light says that the clock was set between two cards."""
    lights = [_lit(mine.some(frames)) for frames in (np.concatenate(before), behind)]
    if any(len(day) < _FEWEST_APART or day.all() or not day.any() for _, day, _ in lights):
        return False
    all_at = np.concatenate([at for at, _, _ in lights])
    table = sky(deployment, all_at.min(), all_at.max())
    one = tell(table, all_at, np.concatenate([day for _, day, _ in lights]))
    two = [tell(table, at, day) for at, day, _ in lights]
    return parted(one, two, _SET_ANEW) > 0.95


def _lit(shots: Shots) -> tuple[Floats, Bools, bool]:
    """Time as read [s] and daylight of one frame a burst, and whether brightness had to decide."""
    first, colour = one_a_burst(shots)
    day, by_brightness = daylight(colour, shots.brightness[first])
    return shots.read_s[first], day, by_brightness


def _running(stretch: Stretch) -> Finding:
    deployment, shots = stretch.deployment, stretch.shots
    assert deployment is not None  # noqa: S101  a running stretch has one
    judged = _on_right_day(_by_light(deployment, shots), deployment, shots.read_s)
    if stretch.back_s >= SET_BACK_S and judged.verdict in (RIGHT, UNCLEAR):
        why, remedy = set_back(stretch.back_s, naive(shots.shown_s[stretch.back_at]))
        found = _finding(stretch, replace(judged, verdict=SET_BACK, why=why))
        return replace(
            found, remedy=remedy + by_files(stretch.camera, found.clock_from, stretch.ends)
        )
    sure = unless_it_looks_off(judged)
    if stretch.run and sure.verdict == RIGHT:
        return _finding(stretch, replace(sure, verdict=UNCLEAR, why=f"{sure.why}{_RAN_ON}"))
    if sure.verdict == RIGHT and (outside := int((shots.deployment < 0).sum())):
        few = numbered(outside, "picture is", "pictures are")
        sure = judged = replace(sure, why=f"{sure.why}, but {few} from outside the days it hung")
    found = _finding(stretch, sure)
    return found if sure is judged else replace(found, remedy="Check one picture by eye.")


def _with_odd(stretch: Stretch, found: Finding) -> Finding:
    """Tell of pictures that count in no answer until somebody says that their clock is right."""
    hung = stretch.deployment
    if hung is None or not stretch.shots.odd.any():
        return found
    why, remedy = odd_offset(stretch.camera, hung.deployment, stretch.shots)
    return replace(
        found, why=f"{found.why}, but {why}", remedy=" ".join(filter(None, (found.remedy, remedy)))
    )


def _by_light(deployment: Deployment, shots: Shots) -> Judged:
    """Hold the times as they are read against the sun of their place."""
    at, day, by_brightness = _lit(shots)
    if not len(at):
        return judge(SunTable(0, shots.light.astype("int16")), at, day)
    table = sky(deployment, at.min(), at.max())
    return judge(table, at, day, switches(deployment, at.min(), at.max()), by_brightness)


_RAN_ON = " the hour, but the day is in doubt: its clock ran on through days it did not hang"
_PLAIN_MIN = 360.0
"""Under so much a clock is off for a plain cause, such as daylight saving, whatever was said of its
hang: a wrong hang date is likelier than an hour and a day at once [min]. Our choice."""
_ROUGH_S = 3 * 3600.0
"""When a camera was hung is noted roughly, and an offset is only known to some minutes [s]."""


def _on_right_day(judged: Judged, deployment: Deployment, read_s: Floats) -> Judged:
    """Among offsets a day apart, which light cannot tell, take what suits the deployment.

    First that no frame falls outside of it by more than `_ROUGH_S`, then the smaller offset, then
    the one that puts the first frame nearest to the hanging, since people try a camera that they
    hang.
    """
    if judged.ahead.value is None or judged.verdict not in WRONG:
        return judged
    if abs(judged.ahead.value) < _PLAIN_MIN:
        return judged
    start = deployment.hung.timestamp()
    stop = deployment.taken_down.timestamp() if deployment.taken_down else np.inf

    def unlikely(days: int) -> tuple[int, int, float]:
        ahead = (judged.ahead.value or 0.0) + days * 1440.0
        right = read_s - ahead * 60
        outside = int(((right < start - _ROUGH_S) | (right > stop + _ROUGH_S)).sum())
        return outside, round(abs(ahead) / 60), abs(float(np.nanmin(right)) - start)

    best, second, _ = sorted((-1, 0, 1), key=unlikely)
    why = judged.why
    if unlikely(best)[:2] == unlikely(second)[:2]:
        why += "; the day may be one off"
    cells = (judged.ahead.value, judged.ahead.low, judged.ahead.high)
    ahead = Estimate(*(None if x is None else x + best * 1440.0 for x in cells))
    return replace(judged, ahead=ahead, why=why)


def _finding(stretch: Stretch, judged: Judged) -> Finding:
    shots = stretch.shots
    usable = int(((shots.light >= 0) & np.isfinite(shots.read_s)).sum())
    step = judged.step
    return Finding(
        stretch.deployment.deployment if stretch.deployment else None,
        stretch.camera,
        naive(np.nanmin(shots.shown_s)),
        naive(np.nanmax(shots.shown_s)),
        judged.verdict,
        judged.ahead,
        len(shots.shown_s),
        usable,
        judged.bursts,
        judged.dawn,
        judged.dusk,
        judged.why,
        judged.drift,
        datetime.fromtimestamp(step.at, UTC) if step else None,
        step.seconds / 60 if step else None,
        None,
        stretch.whole,
        check_order(shots).lines(),
        ends=stretch.ends,
    )


def _lost_stretch(
    read: AuditInput, camera: str, mine: Shots, numbers: Ints, which: Bools
) -> Stretch:
    """A stretch outside of the days its camera hung, with the deployment that it may belong to."""
    at = np.flatnonzero(which)
    card = int(mine.card[at[0]])
    good = np.flatnonzero((mine.card == card) & (mine.near >= 0) & np.isfinite(mine.read_s))
    before, behind = good[good < at[0]], good[good > at[-1]]
    taken_in = read.taken_in[card]
    if len(before):
        deployment: Deployment | None = read.deployments[mine.near[before[-1]]]
    elif len(behind):
        deployment = read.deployments[mine.near[behind[0]]]
    else:
        deployment = _latest(read.deployments, camera, taken_in)
    hung = any(d.camera == camera for d in read.deployments)
    if not _wrong(mine, at, deployment, taken_in):
        nearest = whose(read.deployments, camera, mine.read_s[at])
        more = nearby(mine, nearest, mine.read_s[at]) if nearest else 0
        return Stretch(nearest, camera, mine.some(at), True, hung=hung, nearby=more, at=at)
    bounds = None
    if deployment is not None:
        start = mine.read_s[before[-1]] if len(before) else deployment.hung.timestamp()
        end = min(deployment.taken_down or taken_in, taken_in).timestamp()
        stop = mine.read_s[behind[0]] if len(behind) else end
        shown = mine.shown_s[at]
        bounds = OffsetBounds(float(start - shown[0]), float(stop - shown.max()), len(before) > 0)
    beside = bool(len(before) or len(behind))
    return Stretch(deployment, camera, mine.some(at), True, True, bounds, beside, hung=hung, at=at)


def _wrong(mine: Shots, at: Ints, deployment: Deployment | None, taken_in: datetime) -> bool:
    """Whether a clock was wrong that showed times outside of the days its camera hung."""
    back, first = gone_back_s(mine, at), naive(mine.shown_s[at[0]])
    if surely_wrong(back, first, taken_in):
        return True
    return maybe_wrong(back, first, deployment) and not _lit_right(mine.some(at), deployment)


def _lit_right(shots: Shots, deployment: Deployment | None) -> bool:
    """Whether daylight fits the times as they are read, within an hour."""
    return deployment is not None and _by_light(deployment, shots).verdict not in (
        OFF,
        TWELVE,
        UNCLEAR,
    )


def _latest(hung: list[Deployment], camera: str, by: datetime) -> Deployment | None:
    mine = [d for d in hung if d.camera == camera and d.hung < by]
    return mine[-1] if mine else None


def _lost(stretch: Stretch) -> Finding:
    shots, bounds, deployment = stretch.shots, stretch.bounds, stretch.deployment
    first, colour = one_a_burst(shots)
    day, _ = daylight(colour, shots.brightness[first])
    empty = Judged(UNCLEAR, Estimate(None, None, None), len(first), 0, 0, "")
    if not stretch.hung:
        why = f"it isn't on the map yet, so its clock can't be checked{HANG_FIRST}"
        why += f"camsign hang {quoted(stretch.camera)} --at LAT,LON --from DAY"
        return _finding(stretch, replace(empty, why=why))
    shown = naive(shots.shown_s.min()), naive(shots.shown_s.max())
    if deployment is not None and not stretch.wrong:
        many = len(shots.shown_s) + stretch.nearby
        run = stretch.run or shown
        why, remedy, up_from = said_and_remedy(deployment, many, *shown, run)
        found = _finding(stretch, replace(empty, verdict=DISAGREES, why=why))
        return replace(found, remedy=remedy, up_from=up_from, whole=False)
    by_hand = f"Know one right time? {clock_by_hand(stretch.camera, *shown)}"
    if deployment is None or bounds is None:
        why = "its date lies outside every deployment; no day you gave fits"
        found = _finding(stretch, replace(empty, verdict=IMPOSSIBLE, why=why))
        return replace(found, remedy=by_hand)
    placed = place(shots.shown_s[first], day, bounds, lambda a, b: sky(deployment, a, b))
    verdict = RESET if stretch.beside_good else IMPOSSIBLE
    judged = replace(empty, verdict=verdict, why=placed.why, ahead=_ahead(shots, placed))
    shift = placed.shift if placed.fits else None
    found = replace(_finding(stretch, judged), place_by_shift_s=shift, whole=False)
    return found if placed.fits and placed.close else replace(found, remedy=by_hand)


def _ahead(shots: Shots, placed: Placed) -> Estimate:
    """How far ahead [min] a placed stretch is as it is read so far."""
    read = float(np.nanmedian(shots.read_s - shots.shown_s))
    return Estimate(*((read - x) / 60 for x in (placed.shift, placed.high, placed.low)))


def needs_attention(finding: Finding) -> bool:
    """Whether a person should look at it: anything but right and cannot tell."""
    return finding.verdict not in (RIGHT, UNCLEAR)
