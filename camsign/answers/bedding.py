"""Is this area used as a bed, by whom, on how many days, and which ways lead in and out?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import ClassVar

import numpy as np

from camsign.answers import verdict as rules
from camsign.answers.area_sign import FEW_RUBS, AreaSign, area_sign
from camsign.answers.bedded import (
    BeddedBuck,
    bedder,
    is_mature,
    likeliest_first,
    mature_before,
    no_one,
    said_of,
)
from camsign.answers.beds_input import APART_M
from camsign.answers.beds_known import Known, known_of
from camsign.answers.beds_seen import BedDay, bed_days, directions_untold, seen_at
from camsign.answers.bucks import Bucks, ages_of, ended_days, mature_of
from camsign.answers.detections import UNIDENTIFIED, Asked, asked
from camsign.answers.reach import Watching, reach_of, watching_of
from camsign.answers.result import (
    ABSENCE,
    SPARE,
    THIN,
    Answer,
    Figure,
    Watch,
    days_in_words,
    figure,
    listed,
    nothing_watched,
    reasons,
    see_doubtful,
)
from camsign.answers.rivals import beds_of, estimate_of, present_of
from camsign.answers.scope import Scope, check_kept
from camsign.answers.ways import Ways, ways_of
from camsign.arrays import Ints, Times
from camsign.errors import UsageError
from camsign.formats.days import day as day_in_words
from camsign.geo import Area
from camsign.logbook.moments import season_of
from camsign.logbook.session import Session
from camsign.logbook.shapes import to_area
from camsign.stats.estimate import Estimate, spread_of
from camsign.units import counted, lower_first

# More days of watch than this are no plan: say a whole season instead.
A_SEASON = 120
# A buck's bed of the last days says more than that of the season; so many days count as the last.
LATELY_DAYS, FEWEST_DAYS = 21, 7
METHOD = (
    "days bedded: one model of all bucks and areas, day by day (multistate capture-recapture as a "
    "hidden Markov model, Gibbs sampling; docs/answers/model.md), mean and 95% interval; verdicts "
    "by limits on its odds; allows for days he slips by every camera, learned from how he comes "
    "and goes, for deer just walking through the same way at dawn and dusk, and for pictures "
    "without a name; density ratio: exact interval of two Poisson rates (Przyborowski and "
    "Wilenski 1940); ways: circular means, no narrower than an arrow allows (60 degrees either way)"
)
# Measured: docs/accuracy.md, Where he beds.
RUN_LOW = (
    "on made-up seasons this count of days came to about 84% of the true days without headings "
    "tagged, 89 to 103% with them"
)
ASSUMED_TOO = (
    "if he only walks through to a bed farther on, it looks the same: a camera on the far side "
    "would settle it"
)


@dataclass(frozen=True, slots=True)
class Bedding(Answer):
    """The answer for one area; its table holds the bucks, the likeliest first, a mature one before
    a younger one with the same verdict, or too close to call.

    `verdict`: the word; `said`: the same for people; `rule`: by whom, and what was seen of him.
    """

    TABLE: ClassVar[str] = "bucks"
    ROW: ClassVar[type] = BeddedBuck
    REPEATED: ClassVar[tuple[str, ...]] = ("area",)

    area: str
    area_id: str
    days_watched: int
    bucks: tuple[BeddedBuck, ...]
    unidentified: int
    unknown_travel: int
    sign: AreaSign
    verdict: str
    said: str
    rule: str
    ways: Ways
    watch: Watch
    method: str
    why: tuple[str, ...]
    days: tuple[BedDay, ...] | None = field(default=None, metadata=SPARE)


def bedding(
    session: Session,
    scope: Scope,
    apart_m: float = APART_M,
    known: Known | None = None,
    days: bool = False,
) -> Bedding:
    """Say whether the scope's area is used as a bed.

    Args:
        scope: one area; the bucks asked for, or all.
        apart_m: a buck seen in full daylight farther from the area's edge than this hardly bedded
            there on that day [m].
        known: what the model knows of the scope's days, if it was asked already.
        days: also list each day that speaks for a bed or against it, with its pictures.

    Raises:
        UsageError: not exactly one area, or `apart_m` beyond the kept distances.
    """
    q = asked(session, scope)
    if len(q.reach.spots) != 1:
        raise UsageError("this question is about one area", "name one")
    check_kept(session.settings, "distance", apart_m)
    spot, watching = q.reach.spots[0], q.watching[0]
    watch = watching.summary()
    known = known_of(session, scope, apart_m, [spot.id]) if known is None else known
    wanted = known.wanted(watching, scope)
    found = bedded_bucks(session, scope, spot.id, q.bucks, watching, known)
    found = mature_before(found, scope.mature_age)
    sign = area_sign(session, scope, spot.id, _shape(session, spot.id))
    word, rule = area_verdict(found, sign, watch.days_watched, watch.waiting)
    said = said_of(word, rule, found, watch, scope.mature_age)
    return Bedding(
        area=spot.name,
        area_id=spot.id,
        days_watched=watch.days_watched,
        bucks=found,
        unidentified=int((q.seen.apart == UNIDENTIFIED).sum()),
        unknown_travel=directions_untold(known, spot.id, wanted),
        sign=sign,
        verdict=word,
        said=said + _no_mature(q, found, known) + _not_since(q, found, known, wanted),
        rule=rule,
        ways=ways_of(known, spot.id, set(q.bucks.ids), scope.buck_ids is None, wanted),
        watch=watch,
        method=METHOD,
        days=tuple(_days(q, found, known, wanted)) if days else None,
        why=_why(q, found, known, sign, word, said),
    )


def _shape(session: Session, area_id: str) -> Area:
    sql = "SELECT shape FROM areas_now WHERE area_id = ?"
    row = session.con.execute(sql, [area_id]).fetchone()
    return to_area(row[0] if row else "")


def _days(q: Asked, found: Sequence[BeddedBuck], known: Known, wanted: Times) -> Iterator[BedDay]:
    for buck in found:
        area_id = q.reach.spots[0].id
        yield from bed_days(q.session, q.scope, area_id, buck.buck_id, known, wanted)


def _why(
    q: Asked, found: Sequence[BeddedBuck], known: Known, sign: AreaSign, word: str, said: str
) -> tuple[str, ...]:
    watch = q.watching[0].summary()
    effort = watch.with_days()
    if (waits := watch.unsorted_in_words()) and waits in said:
        effort = effort.replace(watch.but_unsorted, "")
    return reasons(
        q.scope.asked(),
        effort,
        [f"{b.buck} ended {b.ended}: his days count for nothing now" for b in found if b.ended],
        _verdict_why(found, word, sign, q.watching[0]),
        _settle(q, found, word, known),
        None if found else _not_there(q),
    )


def _no_mature(q: Asked, found: Sequence[BeddedBuck], known: Known) -> str:
    """Say of the mature bucks, where none of them may bed there by himself and a younger one is
    named, or where one of them all may."""
    scope, bucks, watch = q.scope, q.bucks, q.watching[0].summary()
    if scope.buck_ids is not None or watch.waiting or watch.days_watched < rules.FEW_DAYS:
        return ""
    old = [b for b in found if is_mature(b, scope.mature_age)]
    if bedder(old):
        return ""
    mature = present_of(q.session, scope, bucks, mature_of(q.session, scope, bucks))
    ids, wanted = [bucks.ids[b] for b in mature], known.wanted(q.watching[0], scope)
    bed = estimate_of(beds_of(known, ids, q.reach.spots[0].id, wanted), len(wanted))
    worth = bed.value or (bed.value is not None and bedder(found))
    return f" {no_one(bed)}." if worth else ""


def _not_since(q: Asked, found: Sequence[BeddedBuck], known: Known, wanted: Times) -> str:
    """Of days over several seasons: name who may bed there but wasn't seen in the last of them; of
    one season: who has moved on."""
    if len(known.seasons) < 2:
        return _moved_on(found, known, q.reach.spots[0].id, wanted)
    begin, area_id = known.seasons[-1][0].first, q.reach.spots[0].id
    last = wanted[wanted >= np.datetime64(begin)]
    gone = [
        b.buck for b in found
        if len(last) and not b.ended and rules.RANK[b.verdict] >= rules.RANK[rules.POSSIBLE]
        and not seen_at(known, b.buck_id, area_id, last).there
    ]  # fmt: skip
    season = season_of(begin, q.session.settings.season_start)
    covered = f"in the {counted(len(last), 'day')} covered of season {season}"
    return f" But {listed(gone)}: not seen here {covered}, the last of these." if gone else ""


def _moved_on(found: Sequence[BeddedBuck], known: Known, area_id: str, wanted: Times) -> str:
    """Name who beds there by all days, but wasn't seen on the last of them and has little odds."""
    last = wanted[-rules.MOVED_DAYS :]
    gone = [
        b.buck for b in found
        if b.verdict == rules.CONFIRMED and not b.ended
        and not seen_at(known, b.buck_id, area_id, last).there
        and (known.on(b.buck_id, area_id, last[-1].item()).value or 0.0) < rules.MOVED_ON
    ]  # fmt: skip
    if not gone:
        return ""
    on = f"in the last {len(last)} days covered; by {day_in_words(last[-1].item())}"
    return f" But {listed(gone)}: not seen here at dawn, dusk or by day {on} most likely elsewhere."


def _not_there(q: Asked) -> str:
    if tagged := q.tagged():
        return f"tagged there: {tagged}; not enough to say who beds there"
    if len(q.watching[0].unsorted):
        return "you haven't tagged a buck with a name there yet, and not every picture is sorted"
    return f"no buck with a name was pictured there; {ABSENCE}"


def bedded_bucks(
    session: Session, scope: Scope, area_id: str, bucks: Bucks, watching: Watching, known: Known
) -> tuple[BeddedBuck, ...]:
    """Give the bucks seen at one area, likeliest first.

    Who ended by the last day asked for counts until then, and comes last.
    """
    ended = {n: day for n, day in ended_days(session, bucks).items() if day <= scope.last}
    ages = ages_of(session, scope, bucks)
    found = []
    for number, buck_id in enumerate(bucks.ids):
        if buck_id not in known.buck_ids:
            continue
        end = ended.get(number)
        wanted = known.wanted(watching, scope, end)
        days = known.days(buck_id, area_id, wanted)
        seen = seen_at(known, buck_id, area_id, wanted)
        if seen.there:
            watch = replace(watching, days=wanted).summary()
            row = _buck(bucks, number, seen, days, watch)
            found.append(replace(row, ended=end, age=ages.get(number)))
    return tuple(sorted(found, key=likeliest_first))


def bedded_lately(
    session: Session, scope: Scope, bucks: Bucks, known: Known
) -> tuple[Watching, tuple[BeddedBuck, ...], tuple[BeddedBuck, ...]]:
    """Give the watch of an area, who was seen there, and how often lately.

    Args:
        scope: the days up to the one asked for, and the area.
        bucks: who is asked about.
        known: what the model of beds knows of them.

    Returns:
        Last the rows with a known share, of the scope's last days, of who was not seen there in
        them the season's; with fewer than a week watched lately, of all.
    """
    area_id = (scope.area_ids or ("",))[0]
    watching = watching_of(session, scope, reach_of(session, scope))[0]
    found = bedded_bucks(session, scope, area_id, bucks, watching, known)
    first = max(scope.first, scope.last - timedelta(days=LATELY_DAYS - 1))
    recent = watching.within(first, scope.last)
    rows = {buck.buck_id: buck for buck in found}
    if len(recent.days) >= FEWEST_DAYS:
        last = replace(scope, season=None, first=first)
        now = bedded_bucks(session, last, area_id, bucks, recent, known)
        rows |= {buck.buck_id: buck for buck in now}
    return watching, found, tuple(b for b in rows.values() if b.share.value is not None)


def _buck(bucks: Bucks, number: int, seen: rules.DaysSeen, days: Ints, watch: Watch) -> BeddedBuck:
    watched = watch.days_watched
    # Days he was there in full daylight are no floor: he may have walked through.
    spread = spread_of(days, most=watched) if watched else Estimate(None, None, None)
    word = rules.verdict_of(seen, days, 0 if watch.waiting else watched)
    if word == rules.LIKELY and watch.waiting:
        word = rules.POSSIBLE  # hardly any of the nights with pictures count
    return BeddedBuck(
        buck=bucks.names[number],
        buck_id=bucks.ids[number],
        mornings=seen.mornings,
        evenings=seen.evenings,
        both=seen.both,
        directed_days=seen.directed,
        inside_days=seen.inside,
        days_bedded=figure(spread, n=watched),
        share=figure(spread.scaled(1 / watched)) if watched else Figure(None, None, None),
        three_days=float((days >= rules.DAYS).mean()),
        one_day=float((days >= 1).mean()),
        contradicting_days=seen.far,
        verdict=word,
        said=f"{rules.SAID[word]}: {bucks.names[number]} {seen.in_words()}",
        why=tuple(
            rules.why_of(seen, days, watched, word == rules.POSSIBLE and bool(watch.waiting))
        ),
    )


def area_verdict(
    found: Sequence[BeddedBuck], sign: AreaSign, days: int, waiting: str | None = None
) -> tuple[str, str]:
    """Give the verdict on an area, and by whom or what: the likeliest living buck, or its sign.

    `waiting`: why days covered show no absence, where too much is not sorted yet.
    """
    if best := bedder(found):
        return best.verdict, best.said.split(": ", 1)[1]
    if pointing := rules.sign_points_to_bed(sign):
        return rules.POSSIBLE, pointing
    if waiting:
        return rules.NOT_ENOUGH, waiting
    if days >= rules.FEW_DAYS:
        return rules.NOT_SHOWN, f"nothing in {days_in_words(days)} points to a bed"
    return rules.NOT_ENOUGH, f"{days_in_words(days)}, too few to say"


def _verdict_why(
    found: Sequence[BeddedBuck], word: str, sign: AreaSign, watching: Watching
) -> tuple[str, ...]:
    left = f"{counted(sign.winter_beds, 'winter bed')} left out" if sign.winter_beds else None
    days, some = len(watching.days), bool(found)
    return reasons(
        days < rules.FEW_DAYS and f"{THIN}: {counted(days, 'whole day')}",
        "; ".join(x for x in (rules.sign_points_to_bed(sign), left) if x),
        0 < sign.rubs < FEW_RUBS
        and f"only {counted(sign.rubs, 'rub')} nearby: a bed in steady use usually has more, so he "
        "uses it off and on at best, or nobody has looked hard (hunters' rule of thumb)",
        some
        and word == rules.POSSIBLE
        and "pressure elsewhere can push bucks in here before the rut (hunters' rule of thumb)",
        rules.days_against_words(
            [(b.buck, b.verdict, b.one_day, b.days_bedded.value) for b in found if not b.ended]
        ),
        some and (ASSUMED_TOO, RUN_LOW),
    )


def _settle(q: Asked, found: Sequence[BeddedBuck], word: str, known: Known) -> str | None:
    """Say what would settle it: what is at hand first, then where to hang a camera, how long."""
    watching, area_id = q.watching[0], q.reach.spots[0].id
    if word == rules.CONFIRMED:
        return None
    if watching.hung and not len(watching.nights):
        why = nothing_watched([watching.summary()]).rstrip(".")
        return f"to settle it: {lower_first(why)}"
    if (watch := watching.summary()).much_waits:
        return f"to settle it: sort the {counted(watch.nights_unsorted, 'night')} left"
    most = bedder(found) or max(found, key=lambda b: b.share.value or 0.0, default=None)
    habits = known.habits(most.buck_id if most else "", area_id)
    days = rules.days_to_settle((most.share.value or None) if most else None, habits)
    up = q.reach.deployments and len(watching.nights)
    camera = "another camera" if up else "a camera"
    long = f"for about {days} more days" if days <= A_SEASON else "for the whole season"
    wanted = known.wanted(watching, q.scope)
    first = ", and ".join(_at_hand(most, area_id, watching, known, wanted))
    at_hand = f"first {first}; then " if first else ""
    return (
        f"to settle it: {at_hand}hang {camera} on the trail in, facing along it so you see which "
        f"way he's headed, {long}"
    )


def _at_hand(
    most: BeddedBuck | None, area_id: str, watching: Watching, known: Known, wanted: Times
) -> Iterator[str]:
    """Name what tells more without another camera: a card that isn't loaded, ways not marked."""
    if watching.doubtful:
        whose = f"the pictures from {listed(watching.doubtful)}, which are in doubt"
        yield f"clear the times of {whose} (see: {see_doubtful(watching.doubtful)})"
    if watching.no_card:
        yield f"load the card from {listed(watching.no_card)}, if you have it"
    if most and most.mornings + most.evenings:
        marked = ways_of(known, area_id, {most.buck_id}, False, wanted)
        if not (marked.morning or marked.evening):
            yield f"mark which way {most.buck} went (T on Sort)"
