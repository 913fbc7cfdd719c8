"""Who likely made this rub?"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any, ClassVar

import numpy as np

from camsign.answers.beds_ground import RANGE_M
from camsign.answers.bucks import Bucks, bucks_of, ended_days, mature_of, tagged_in_words
from camsign.answers.makers_beds import BedsAround, beds_around
from camsign.answers.makers_watch import Around, VisitedCamera, around_of, visited_around
from camsign.answers.odds import about, one_in
from camsign.answers.result import ABSENCE, FEW_NIGHTS, THIN, Answer, Watch, reasons
from camsign.answers.scope import Scope
from camsign.arrays import Floats
from camsign.errors import UsageError
from camsign.logbook.database import run_sql
from camsign.logbook.moments import season_of
from camsign.logbook.session import Session
from camsign.sign.size import Builds, Mark, size_likelihood, size_marks
from camsign.stats.origin import WIDTH_M, Shares, origin_shares
from camsign.units import UnitSystem, counted, format_length

NOT_TAGGED, NOT_CAUGHT = "a buck without a name", "a buck that no camera near it caught"
# Probabilities closer than this to the first's are near-ties.
NEAR_TIE = 0.1
# Nobody is called likely at worse odds than this.
EVEN = 0.5
# Where another has this part of the second's odds, the second isn't named.
AS_LIKELY = 0.8
# Of more bucks than this none is named, where all are in question; our choice.
MANY = 3
# Sign of these kinds is made by bucks alone.
BUCKS_ALONE = frozenset({"rub", "scrape", "shed"})
A_DOES = "no buck made it: you said it's a doe's"
CANNOT_TELL = "can't tell: no camera was up when it was made"
UNSURE = "can't tell for sure; "
NOBODY_LOOKED = "no camera was there to catch him"
NOT_SORTED = "can't tell: too much there isn't sorted"
# A camera hung now still sees who comes back to a sign that is no older than this.
STILL_VISITED = timedelta(days=30)
# A habit that is said to be his speaks for him so many times (common practice, no source).
HABIT = 5.0
METHOD = (
    "days in bed near it while it was made, by the model of beds, more where a rub's maker was "
    "headed away from the bed, and visits in that time of other days, weighed by distance "
    "(Gaussian, {width}) and by nights watched, with a small equal prior and as much for each as "
    "passes unseen; times the size evidence (common practice, no source, at most 5 times for or "
    "against) and a habit said to be his (5 times); a share for a buck without a name from sample "
    "coverage (Good 1953) and visits without a name; intervals by drawing rates and days (seeded), "
    "95%"
)


@dataclass(frozen=True, slots=True)
class Maker:
    """A buck who may have made the sign: probability `p` with its interval, None where nobody can
    tell. `visits`: within the kept distances during the made window; `nearest_m`: from the nearest
    camera that saw him [m]."""

    buck: str
    buck_id: str | None
    p: float | None
    low: float | None
    high: float | None
    visits: int
    nearest_m: float | None
    why: str


@dataclass(frozen=True, slots=True)
class Makers(Answer):
    """The answer for one sign; its table holds the makers, the likeliest first.

    `verdict`: the likeliest, those in question, or that nobody can tell since no camera
    was up or what it took is not sorted; then the makers are the bucks known to have been alive
    then, without odds. `marks`: what its size says of its maker, where the age of one who is
    asked about is known.
    """

    TABLE: ClassVar[str] = "makers"
    ROW: ClassVar[type] = Maker
    REPEATED: ClassVar[tuple[str, ...]] = ("sign",)

    sign: str
    kind: str
    made_from: date
    made_to: date
    verdict: str
    makers: tuple[Maker, ...]
    near_ties: tuple[str, ...]
    marks: tuple[Mark, ...]
    watch: Watch
    method: str
    why: tuple[str, ...]

    @property
    def said(self) -> str:
        """Say in a sentence who made it."""
        return f"{self.kind.capitalize()} {self.sign}: {self.verdict}."


@dataclass(frozen=True, slots=True)
class _Sign:
    """A sign at its latest sighting."""

    sign: str
    kind: str
    made_from: date
    made_to: date
    measures: Mapping[str, Any]
    habit: str | None
    owner: str | None
    bed_of: str | None

    @property
    def any_deer(self) -> bool:
        """Whether a doe may have made it as well: nobody said that it is a buck's."""
        return self.kind not in BUCKS_ALONE and self.bed_of != "buck"


def makers(session: Session, scope: Scope, sign: str) -> Makers:
    """Say who likely made a sign.

    Args:
        scope: its bucks, or without names all that were seen around the sign, are the candidates;
            its gap parts visits; its days do not matter, for the made window says when.
        sign: the sign's id, or the beginning of it if there is no other.

    Raises:
        UsageError: there is no such sign.
    """
    one, units = _sign(session, sign), session.settings.units
    window = one.made_from, one.made_to
    around = visited_around(session, one.sign, window, scope.gap_s)
    bucks = _candidates(session, bucks_of(session, scope), around, scope, one)
    evidence, aged = _evidence(session, scope, one, bucks)
    hung = around_of(session, one.sign, *window, scope.reach_m)
    nights = sum(camera.nights for camera in around)
    beds = beds_around(session, scope, one.sign, window, bucks.ids) if nights else None
    shares = _shares(around, bucks, [factor for factor, _ in evidence], beds)
    found = [
        _maker(around, bucks, b, shares, evidence[b][1], beds, units, hung.watch)
        for b in range(len(bucks.ids))
    ]
    odds = shares.value[-1], shares.low[-1], shares.high[-1]
    found.append(_stranger(around, odds, units))
    found.sort(key=lambda maker: -(maker.p or 0.0))
    enough = (
        nights >= FEW_NIGHTS and not hung.watch.waiting and not _before_cameras(session, one, hung)
    )
    guess = hung.watch.much_waits and found[0].buck_id not in _tied(around, bucks, beds)
    if told := enough and not guess and len(found) > 1 and one.bed_of != "doe":
        ties = [m.buck for m in found[1:] if (found[0].p or 0.0) - (m.p or 0.0) < NEAR_TIE]
    else:
        found, ties = [replace(m, p=None, low=None, high=None) for m in found], []
    untold = _untold(session, one, around, bucks, hung)
    return Makers(
        sign=one.sign,
        kind=one.kind,
        made_from=one.made_from,
        made_to=one.made_to,
        verdict=_verdict(found, ties, one.any_deer) if told else untold,
        makers=tuple(found),
        near_ties=tuple(ties),
        marks=size_marks(one.measures, session.settings) if aged else (),
        watch=hung.watch,
        method=METHOD.format(width=format_length(WIDTH_M, units)),
        why=_why(session, one, nights, hung),
    )


def _sign(session: Session, word: str) -> _Sign:
    rows = session.con.execute(
        "SELECT w.sign, w.kind, w.made_from, w.made_to, g.measures, h.name, h.buck, s.bed_of"
        " FROM made_windows w LEFT JOIN sightings g USING (sighting)"
        " LEFT JOIN signs s ON s.sign = w.sign"
        " LEFT JOIN habits h ON h.habit = s.habit AND h.gone IS NOT TRUE"
        " WHERE w.sign = $word OR starts_with(w.sign, $word) ORDER BY w.sign = $word DESC,"
        " w.seen_on DESC, w.sighting DESC",
        {"word": word.strip()},
    ).fetchall()
    signs = {row[0] for row in rows if row[0] == word.strip()} or {row[0] for row in rows}
    if len(signs) != 1 or not word.strip():
        what = "there is no sign" if not signs else f"{len(signs)} pieces of sign begin with"
        raise UsageError(f"{what} {word.strip()!r}", "list them with: camsign sign list")
    sign, kind, first, last, measures, *habit = next(row for row in rows if row[0] in signs)
    given = json.loads(measures) if isinstance(measures, str) else measures
    return _Sign(sign, kind, first, last, given or {}, *habit)


def _candidates(
    session: Session, bucks: Bucks, around: Sequence[VisitedCamera], scope: Scope, sign: _Sign
) -> Bucks:
    """Give those seen within a buck's range of the sign while it was made and the owner of its
    habit, or the bucks asked for.

    Where none was seen, all those known to have been alive then. Nobody who had ended before.
    """
    gone = {n for n, day in ended_days(session, bucks).items() if day <= sign.made_from}
    owns = bucks.number.get(sign.owner or "")
    days = {"first": sign.made_from, "last": sign.made_to}
    given = {"sign": sign.sign, "range_m": RANGE_M, **days}
    seen = {buck for (buck,) in run_sql(session.con, __file__, "roaming.sql", **given).fetchall()}
    seen |= {buck for camera in around for buck in camera.visits} - {None}
    if not seen:
        season = season_of(sign.made_to, session.settings.season_start)
        given = {"season": season, **days}
        seen = {buck for (buck,) in run_sql(session.con, __file__, "alive.sql", **given).fetchall()}
    asked = scope.buck_ids is not None
    return bucks.only([
        i for i, buck in enumerate(bucks.ids)
        if i not in gone and (asked or buck in seen or i == owns)
    ])  # fmt: skip


def _evidence(
    session: Session, scope: Scope, sign: _Sign, bucks: Bucks
) -> tuple[list[tuple[float, str | None]], bool]:
    """Give of each buck how many times likelier his build, and a habit said to be his, make it.

    And whether the age of any is known.
    """
    season = season_of(sign.made_to, session.settings.season_start)
    mature = mature_of(session, replace(scope, season=season), bucks, living=False)
    rows = session.con.execute(
        "SELECT buck, value_m, low_m, high_m FROM measurements WHERE gone IS NOT TRUE"
        " AND kind = 'spread' AND season = ? AND value_m IS NOT NULL ORDER BY value_m",
        [season],
    ).fetchall()
    spreads = {
        bucks.number.get(buck): (value, low if low is not None else value, high or value)
        for buck, value, low, high in rows
    }
    found = []
    for b in range(len(bucks.ids)):
        build = Builds(None if b in mature.unknown else b in mature.bucks, spreads.get(b))
        factor, words = size_likelihood(sign.measures, build, session.settings)
        if sign.owner is not None and bucks.number.get(sign.owner) == b:
            habit = f"it shows his habit {sign.habit!r}"
            factor, words = factor * HABIT, f"{words}; {habit}" if words else habit
        found.append((factor, words))
    return found, len(mature.unknown) < len(bucks.ids)


def _shares(
    around: Sequence[VisitedCamera],
    bucks: Bucks,
    likelihoods: Sequence[float],
    beds: BedsAround | None,
) -> Shares:
    def each(values: Iterable[float]) -> Floats:
        return np.array(list(values), dtype=float)

    shape = len(bucks.ids), len(around)
    came = [(buck, c.deployment, c.visits.get(buck, [])) for buck in bucks.ids for c in around]
    return origin_shares(
        each(len(days) for _, _, days in came).reshape(shape),
        each(len(c.visits.get(None, [])) for c in around),
        each(max(c.nights, 1) for c in around),
        each(c.meters for c in around),
        each([*likelihoods, 1.0]),
        beds.shares() if beds else None,
        each(beds.days_in_bed(*one) for one in came).reshape(shape) if beds else None,
    )


def _maker(
    around: Sequence[VisitedCamera], bucks: Bucks, b: int, shares: Shares, evidence: str | None,
    beds: BedsAround | None, units: UnitSystem, watch: Watch,
) -> Maker:  # fmt: skip
    buck = bucks.ids[b]
    visits = sum(len(c.visits.get(buck, [])) for c in around)
    near = min((c.meters for c in around if buck in c.visits), default=None)
    words = (
        f"nearest camera that got him: {format_length(near, units)}"
        if near is not None
        else NOT_SORTED
        if watch.waiting
        else f"not seen around it while it was made; {ABSENCE}"
        if any(c.nights for c in around)
        else NOBODY_LOOKED
    )
    bedded = beds.in_words(b) if beds else None
    why = "; ".join(said for said in (bedded, words, evidence) if said)
    return Maker(
        bucks.names[b], buck, shares.value[b], shares.low[b], shares.high[b], visits, near, why
    )


def _tied(
    around: Sequence[VisitedCamera], bucks: Bucks, beds: BedsAround | None
) -> set[str | None]:
    """Give those to whom more points than age and the sign's size: a visit or a day in bed."""
    bedded = {buck for b, buck in enumerate(bucks.ids) if beds and beds.in_words(b)}
    return {buck for camera in around for buck in camera.visits} | bedded


def _stranger(
    around: Sequence[VisitedCamera], odds: tuple[float, float, float], units: UnitSystem
) -> Maker:
    """Give the row of a buck without a name."""
    visits = sum(len(c.visits.get(None, [])) for c in around)
    near = min((c.meters for c in around if None in c.visits), default=None)
    why = NOT_CAUGHT
    if near is not None:
        why = f"nearest camera that got one: {format_length(near, units)}"
    return Maker(NOT_TAGGED, None, *odds, visits, near, why)


def _untold(
    session: Session, sign: _Sign, around: Sequence[VisitedCamera], bucks: Bucks, hung: Around
) -> str:
    """Say why nobody can tell: no camera was up, or what it took is not sorted or not loaded."""
    if sign.bed_of == "doe":
        return A_DOES
    if hung.watch.much_waits:
        return f"can't tell yet: {hung.watch.unsorted_in_words()}. Sort them first"
    if before := _before_cameras(session, sign, hung):
        return before
    cameras, days = [c.deployment for c in around], (sign.made_from, sign.made_to)
    if cameras and (tagged := tagged_in_words(session, bucks, *days, cameras)):
        return f"can't tell yet: {tagged}"
    nights = sum(c.nights for c in around)
    load = hung.to_load(session.settings.units)
    if load and not nights:
        return f"can't tell: {load}"
    few = f"can't tell: only {counted(nights, 'camera night')} near it while it was made"
    return few if nights else CANNOT_TELL


def _before_cameras(session: Session, sign: _Sign, hung: Around) -> str:
    """Say that nobody can tell where more than a quarter of the seasons in which it may have been
    made (our choice) were over before any camera near it; else empty."""
    start, first = session.settings.season_start, hung.watch.first or sign.made_from
    begin, end = season_of(sign.made_from, start), season_of(sign.made_to, start)
    bare, seasons = season_of(first, start) - begin, end - begin + 1
    if 4 * bare <= seasons:
        return ""
    return f"can't tell: no camera near it covered {bare} of the {seasons} seasons it may be from"


def _verdict(found: Sequence[Maker], ties: Sequence[str], any_deer: bool = False) -> str:
    """Name the likeliest, or all in question; of what any deer may have made, that first."""
    told = _likeliest(found, ties)
    if not any_deer:
        return told
    buck = told.removeprefix("can't tell: ").removeprefix(UNSURE)
    return f"a doe could have made it, too. If a buck did: {buck}"


def _likeliest(found: Sequence[Maker], ties: Sequence[str]) -> str:
    """Name the likeliest where the odds are better than even, else all in question."""
    first, second = found[0], found[1]
    names = [first.buck, *ties]
    if len(names) == len(found) > MANY:
        return f"can't tell: could be any of these {len(found) - 1} bucks, or one without a name"
    if ties:
        return f"can't tell: could be {', '.join(names[:-1])} or {names[-1]}"
    if (first.p or 0.0) > EVEN:
        span = f"anywhere from {one_in(first.low or 0.0)} to {one_in(first.high or 1.0)}"
        return f"likely {first.buck}, {about(first.p or 0.0)} ({span})"
    odds = second.p or 0.0
    alone = [m for m in found[1:] if (m.p or 0.0) >= AS_LIKELY * odds] == [second]
    then = (
        f"{second.buck} is next at {about(odds)}"
        if alone
        else f"nobody else is over {one_in(odds)}"
    )
    return f"{UNSURE}{first.buck} leads at {about(first.p or 0.0)}; {then}"


def _why(session: Session, sign: _Sign, nights: int, around: Around) -> tuple[str, ...]:
    units = session.settings.units
    (last,) = session.con.execute("SELECT max(night) FROM watch WHERE watched").fetchone() or (
        None,
    )
    helps = last is not None and last - sign.made_to <= STILL_VISITED
    near = next((one.meters for one in around.counted), None)
    load = nights and around.to_load(units)
    few = nights < FEW_NIGHTS and not around.watch.waiting and (nights or not around.without_card)
    return reasons(
        f"made between {sign.made_from} and {sign.made_to}",
        around.in_words(units) or (not around.hung and "no camera near it was up in that time"),
        load,
        few and f"{THIN}: what was seen around it says little",
        sign.kind == "scrape" and "a scrape is used by many: this says who was around it",
        (near is None or near > WIDTH_M)
        and not around.without_card
        and helps
        and "a camera closer to it, hung now, would tell who comes back",
    )
