"""One round of learning the chances behind a season from a course of beds drawn for each buck.

Given where he was on each day, every chance has a Beta or Dirichlet law; those of different bucks
and areas are pooled around means. What is shared, and how strongly (common practice, no source,
tried on simulated seasons of tests/wild_seasons.py):
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from camsign.arrays import Bools, Floats, Ints, Reals, Singles
from camsign.stats.beds_chances import (
    SINGLE,
    WAYS,
    Chances,
    Ratios,
    Worths,
    behind,
    fit_of,
    roaming,
)
from camsign.stats.beds_evidence import DARK, LIT, UNTOLD, Evidence, Looks
from camsign.stats.keeping import forward
from camsign.stats.pooled import Pool, beta_law, even_pool, rare_pool

# Likings among the areas before any picture, in days chosen anew: all together, and at most each.
AREAS, MOST_AN_AREA = 2.0, 0.4
# Share of beds in the known areas before any picture: so much for each, at most so much; what that
# weighs, in days chosen anew.
KNOWN_BEDS, MOST_KNOWN, AWAY_WEIGHT = 0.12, 0.75, 40.0
# Ways of his passes for other reasons; of ends in bed by outside and inside cameras.
ANY_WAY, FIT_PRIOR = 0.7, ((45.0, 10.0, 3.0), (35.0, 10.0, 4.0))
DARK_PRIOR = (2.0, 4.0)
# In full daylight bucks seldom pass for other reasons: means are as likely as this power of theirs.
BY_DAY = -1.5
# Beta laws of the mean chance to pass one, two, three cameras or more at an end of a day in bed.
PASS_PRIOR = ((1.5, 6.5), (2.0, 6.0), (2.5, 5.5))
# Odds that somebody beds in a bedding area without sign (common practice, no source).
USED_ODDS = 3.0


@cache
def pools() -> dict[str, Pool]:
    """Say how each kind of chance is shared; made once, since their grids do not change."""
    return {
        "passes": even_pool(4.0, 1.0, 1.0, points=25),
        "ends": even_pool(20.0, 1.0, 1.0, points=25),
        "hidden": even_pool(8.0, 2.0, 3.5),
        "stirs": rare_pool(6.0, 0.004, 0.4, steep=0.3),
        "others": rare_pool(4.0, 0.002, 0.6),
        "roams": rare_pool(20.0, 0.002, 0.5),
        "keeps": even_pool(8.0, 6.0, 4.0),
        "away": even_pool(15.0, 1.0, 1.0),
    }


def first_guess(e: Evidence, chains: int) -> Chances:
    """Give chances to begin with: every picture for other reasons, so that a bed must be shown."""
    k, a, sets = e.bucks, e.areas, int(e.watch.max(initial=-1)) + 1
    passes = np.full((chains, k, sets + 1, 2), 0.5)
    passes[:, :, -1] = 0.0
    fits = np.array([[x / sum(row) for x in row] for row in FIT_PRIOR])
    likes, others, ways = liking(e), *_all_others(e)
    away = away_at_first(e)
    return Chances(
        passes=passes,
        trails=np.full((chains, k, sets), 0.3),
        hidden=np.full((chains, k, a), 0.3),
        stirs=np.full((chains, k, a), 0.03),
        others=np.tile(others, (chains, 1, 1, 1)),
        ways=np.tile(ways, (chains, 1, 1, 1)),
        dark=np.full((chains, k, 2), 1 / 3),
        fits=np.tile(fits, (chains, 1, 1)),
        roams=np.full((chains, k), 0.02),
        keeps=np.full((chains, k), 0.6),
        likes=np.tile(np.append((1 - away) * likes / likes.sum(), away), (chains, k, 1)),
        used=np.ones((chains, a), dtype=bool),
    )


def _all_others(e: Evidence) -> tuple[Floats, Floats]:
    looks, shape = e.looks, (e.bucks, e.areas)
    watched = (e.watch >= 0).sum(axis=0)
    hits = _count((*shape, 2), looks.buck, looks.area, np.where(looks.half == LIT, 1, 0))
    days = np.maximum(2.0 * watched, 1.0)[None, :, None]
    mid = e.stirred.sum(axis=1) / np.maximum(watched, 1.0)
    told = looks.way != UNTOLD
    at = (looks.buck[told], looks.area[told], looks.way[told] - 1)
    ways = _count((*shape, WAYS), *at) + 1.0
    others = np.concatenate([(hits + 0.5) / (days + 5.0), mid[..., None] + 0.01], axis=-1)
    return np.clip(others, 0.005, 0.9), ways / ways.sum(axis=-1, keepdims=True)


def liking(e: Evidence) -> Floats:
    """Give the Dirichlet law of a buck's likings among the areas."""
    each = min(AREAS / max(e.areas, 1), MOST_AN_AREA)
    found: Floats = each * e.likes
    return found


@dataclass(slots=True, eq=False)
class Course:
    """What was drawn: the state by (day, chain, buck), whether chosen anew, and not slipping by."""

    state: Ints
    anew: Bools
    open: Bools


def bedded_looks(
    looks: Looks, worths: Worths, chain: Ints, course: Course, rng: np.random.Generator
) -> Bools:
    """Draw which looks were passes to or from bed, not for other reasons."""
    at = looks.day, chain, looks.buck
    here = np.flatnonzero((course.state[at] == looks.area) & course.open[at])
    p, r, slip = (x[here] for x in worths)
    found = np.zeros(len(chain), dtype=bool)
    # As many dice as there are looks, whatever was drawn.
    found[here] = rng.random(len(chain))[here] * r > (1 - p) * slip
    return found


def opened(c: Chances, ratios: Ratios, state: Ints, rng: np.random.Generator) -> Bools:
    """Draw the days in bed on which he did not slip by."""
    days, areas, *many = ratios[0].shape
    at = np.minimum(state, areas - 1) * int(np.prod(many)) + np.arange(np.prod(many)).reshape(many)
    ratio, slip = (
        np.take_along_axis(x.reshape(days, -1), at.reshape(days, -1), 1).reshape(state.shape)
        for x in ratios
    )
    slips = behind(c.hidden).reshape(-1).take(at)
    hidden = slips * slip
    both = hidden + (1 - slips) * ratio
    found: Bools = (state < areas) & (rng.random(state.shape, dtype=SINGLE) * both > hidden)
    return found


def learn(
    e: Evidence, c: Chances, chain: Ints, looks: Looks, worths: Worths, course: Course,
    rng: np.random.Generator,
) -> None:  # fmt: skip
    """Draw all chances anew, in place; `worths` of the looks by what they were."""
    bed = bedded_looks(looks, worths, chain, course, rng)
    walk = _walks(c, chain, looks, bed, rng)
    shown = _passes(e, c, chain, looks, (bed, bed | walk), course, rng)
    stirred = _stirs(e, c, course, shown, rng)
    _others(e, c, chain, looks, (bed, walk), stirred, rng)
    _roams(e, c, course, rng)
    _chain(e, c, course, rng)


def _count(shape: tuple[int, ...], *index: Ints) -> Floats:
    found = np.bincount(np.ravel_multi_index(index, shape), minlength=int(np.prod(shape)))
    return found.reshape(shape).astype(float)


def tally(shape: tuple[int, int, int], kind: Ints, days: Bools) -> Floats:
    """Count the days of each chain and buck by their kind: (days, chains, bucks) both."""
    chains, bucks, kinds = shape
    row = np.arange(chains * bucks).reshape(chains, bucks) * kinds
    found = np.bincount((row + kind)[days], minlength=row.size * kinds)
    return found.reshape(shape).astype(float)


def _passes(
    e: Evidence, c: Chances, chain: Ints, looks: Looks, kinds: tuple[Bools, Bools], course: Course,
    rng: np.random.Generator,
) -> Floats:  # fmt: skip
    """Learn the chances to pass at each end, the dark halves, the fit of ways, and slipping by.

    Returns the watched days in bed on which he did not slip by: (chains, bucks, areas).
    """
    pool, (bed, timed) = pools(), kinds
    chains, bucks, sets, _ = c.passes.shape
    sets -= 1
    by_state = np.column_stack([e.watch, np.full(e.days, -1)])
    watch = by_state[np.arange(e.days)[:, None, None], course.state]
    here = watch >= 0
    each = (chains, bucks, e.areas)
    shown = tally(each, course.state, here & course.open)
    hidden = tally(each, course.state, here) - shown
    mean = pool["hidden"].mean(hidden.reshape(chains, -1), shown.reshape(chains, -1), rng)
    c.hidden[:] = pool["hidden"].chances(mean[:, None, None], hidden, shown, rng)
    if sets:
        trials = tally((chains, bucks, sets), watch, here & course.open)
        at = (chain[bed], looks.buck[bed], e.watch[looks.day, looks.area][bed], looks.end[bed])
        hits = _count((chains, bucks, sets, 2), *at)
        misses = np.maximum(trials[..., None] - hits, 0.0)
        c.trails[:] = pool["ends"].mean(hits, misses, rng, _of_trails(e, c, rng)[:, None])
        c.passes[:, :, :-1] = pool["ends"].chances(c.trails[..., None], hits, misses, rng)
    halves = (chains, bucks, 2, 2)
    dark = _count(halves, *(x[timed] for x in (chain, looks.buck, looks.end, looks.half)))
    drawn = rng.beta(DARK_PRIOR[0] + dark[..., DARK], DARK_PRIOR[1] + dark[..., LIT])
    c.dark[:] = np.clip(drawn, 0.01, 0.99)
    told = bed & (looks.way != UNTOLD)
    fit = fit_of(looks.way[told], looks.end[told])
    fits = _count((chains, 2, WAYS), chain[told], looks.inside[told].astype(int), fit)
    c.fits[:] = _dirichlet(fits + np.array(FIT_PRIOR), rng)
    return shown


def _of_trails(e: Evidence, c: Chances, rng: np.random.Generator) -> Floats:
    """Draw each set's mean from the bucks' own chances; give the law of these over the grid.

    Bucks use a trail both ways: who passes no camera at dawn seldom does at dusk. Taken as two
    matters, a bed whose trails nobody watches would look like no bed.
    """
    pool = pools()["passes"]
    laws = pool.around
    own = np.rint(c.trails * len(pool.grid) - 0.5).astype(int)
    a, b = np.array(PASS_PRIOR)[np.minimum(e.cameras, len(PASS_PRIOR)) - 1].T[..., None]
    log = beta_law(pool.grid, a, b) + laws[:, own].sum(axis=2).transpose(1, 2, 0)
    mean = np.argmax(log + rng.gumbel(size=log.shape), axis=-1)
    found: Floats = laws[mean]
    return found


def _stirs(
    e: Evidence, c: Chances, course: Course, shown: Floats, rng: np.random.Generator
) -> Floats:
    """Learn the chance to be seen in full daylight in bed; count the days it explains."""
    buck, day, area = np.nonzero(e.stirred & (e.watch >= 0))
    lies = (course.state[day, :, buck] == area[:, None]) & course.open[day, :, buck]
    mid, other = c.stirs[:, buck, area].T, c.others[:, buck, area, 2].T
    lies &= rng.random(lies.shape) * (mid + (1 - mid) * other) < mid
    at, chain = np.nonzero(lies)
    hits = _count(shown.shape, chain, buck[at], area[at])
    c.stirs[:] = pools()["stirs"].each(hits, shown - hits, rng)
    return hits


def _walks(c: Chances, chain: Ints, looks: Looks, bed: Bools, rng: np.random.Generator) -> Bools:
    """Draw which of the others are of one who walks through, not of one who passes by night."""
    night, walk = np.moveaxis(c.others[chain, looks.buck, looks.area, :2], -1, 0)
    walks = (1 - night) * walk * c.dark[chain, looks.buck, looks.end]
    found: Bools = ~bed & ((looks.half == LIT) | (rng.random(len(bed)) * (night + walks) < walks))
    return found


def _others(
    e: Evidence, c: Chances, chain: Ints, looks: Looks, kinds: tuple[Bools, Bools],
    stirred: Floats, rng: np.random.Generator,
) -> None:  # fmt: skip
    """Learn how often he passes for other reasons, and which way."""
    bed, walk = kinds
    chains, bucks, areas, _ = c.others.shape
    watched = (e.watch >= 0).sum(axis=0).astype(float)
    rest = ~bed & (e.watch[looks.day, looks.area] >= 0)
    shape = (chains, bucks, areas, 2)
    at = (chain, looks.buck, looks.area, walk.astype(int))
    hits = np.zeros((chains, bucks, areas, 3))
    hits[..., :2] = _count(shape, *(x[rest] for x in at))
    trials = np.stack([2 * watched, 2 * watched, watched], axis=-1)
    trials = np.broadcast_to(trials, hits.shape).copy()
    trials[..., :2] -= _count(shape[:3], *(x[bed] for x in at[:3]))[..., None]
    hits[..., 0] += e.night_hits
    trials[..., 0] += e.night_spans
    hits[..., 2] = (e.stirred & (e.watch >= 0)[None]).sum(axis=1) - stirred
    trials[..., 2] -= stirred
    misses = np.maximum(trials - hits, 0.0)
    pool = pools()["others"]
    by_day = np.array([0.0, 0.0, BY_DAY])[:, None] * np.log(pool.grid)
    c.others[:] = pool.each(hits, misses, rng, by_day)
    told = rest & (looks.way != UNTOLD)
    at = (chain[told], looks.buck[told], looks.area[told], looks.way[told] - 1)
    c.ways[:] = _dirichlet(_count((chains, bucks, areas, WAYS), *at) + ANY_WAY, rng)


def _roams(e: Evidence, c: Chances, course: Course, rng: np.random.Generator) -> None:
    """Learn how often he is seen far off in full daylight, on days elsewhere."""
    away = course.state == e.areas
    seen = roaming(e).T[:, None]
    hits, misses = ((away & x).sum(axis=0).astype(float) for x in (seen, ~seen))
    c.roams[:] = pools()["roams"].each(hits, misses, rng)


def _chain(e: Evidence, c: Chances, course: Course, rng: np.random.Generator) -> None:
    """Learn how long he keeps a bed and which ones he likes."""
    days, chains, bucks = course.state.shape
    anew = course.anew[1:].sum(axis=0).astype(float)
    c.keeps[:] = pools()["keeps"].each(days - 1 - anew, anew, rng)
    chosen = tally((chains, bucks, e.areas + 1), course.state, course.anew)
    away, near = chosen[..., -1], chosen[..., :-1].sum(axis=-1)
    # The fewer areas are known, the more often they bed where nobody looks.
    pool, first = pools()["away"], away_at_first(e)
    law = beta_law(pool.grid, AWAY_WEIGHT * first, AWAY_WEIGHT * (1 - first))
    share = pool.each(away, near, rng, law)[..., None]
    used = c.used[:, None]
    among = _dirichlet(np.where(used, chosen[..., :-1] + liking(e), 1e-6), rng)
    likes = np.maximum(np.concatenate([(1 - share) * among, share], axis=-1), 1e-6)
    likes[..., :-1] *= used
    c.likes[:] = likes


def away_at_first(e: Evidence) -> float:
    """Give how often bucks choose a bed in none of the areas, before any picture."""
    return 1 - min(KNOWN_BEDS * float(e.likes.sum()), MOST_KNOWN)


def _dirichlet(weights: Floats, rng: np.random.Generator) -> Floats:
    drawn = np.maximum(rng.gamma(weights), 1e-12)
    found: Floats = drawn / drawn.sum(axis=-1, keepdims=True)
    return found


def reconsider(
    e: Evidence, c: Chances, likely: Singles, summed: tuple[Reals, Floats], laws: Floats,
    rng: np.random.Generator,
) -> None:  # fmt: skip
    """Take an area of each chain out or put it in, in place: some are only walked through.

    Where every buck passes at dusk and at dawn, each of many days is a little likely a day in bed,
    and over a season one of them nearly sure. So areas nobody beds in are a hypothesis of their
    own, for all bucks together. It is weighed by the likelihood of the whole season with the
    courses summed over (`keeping.forward`): an area is taken out, or put in with likings drawn anew
    from their law, and the step is taken with the ratio of likelihoods times the odds beforehand.
    P. J. Green, Biometrika 82 (1995) 711-732: the new likings come from their own law, so that
    nothing else enters the ratio.

    Args:
        e: the season.
        c: the chances; `used` and `likes` change.
        likely: of each day in each state (`beds_chances.said`).
        summed: the forward chances, which change, and the log likelihood (`keeping.forward`).
        laws: (areas) of likings, a Dirichlet's weights.
        rng: where chance comes from.
    """
    filtered, before = summed
    chains = len(c.used)
    row, area = np.arange(chains), rng.integers(0, e.areas, chains)
    used = c.used.copy()
    used[row, area] = ~used[row, area]
    likes = _likes(c, used, area, laws, rng)
    tried, after = forward(likely, c.keeps, behind(likes))
    odds = np.log(USED_ODDS * e.likes[area])
    gain = (after - before).sum(axis=1) + np.where(used[row, area], odds, -odds)
    # One area at least stays: likings need somewhere to go.
    takes = (np.log(rng.random(chains)) < gain) & used.any(axis=1)
    c.used[takes], c.likes[takes] = used[takes], likes[takes]
    filtered[:, :, takes] = tried[:, :, takes]


def _likes(c: Chances, used: Bools, area: Ints, laws: Floats, rng: np.random.Generator) -> Floats:
    """Give the likings with an area put in or taken out, the others in the same proportion."""
    row, bucks = np.arange(len(used)), c.likes.shape[1]
    rest = (used * laws).sum(axis=1) - np.where(used[row, area], laws[area], 0.0)
    share = rng.beta(laws[area][:, None], np.maximum(rest, 1e-9)[:, None], (len(used), bucks))
    near = c.likes[..., :-1].copy()
    total = near.sum(axis=-1)
    near[row, :, area] = 0.0
    left = np.maximum(near.sum(axis=-1), 1e-300)
    goes_in = used[row, area][:, None]
    share = np.where(goes_in, np.clip(share, 1e-6, 1 - 1e-6), 0.0)
    near *= (total * (1 - share) / left)[..., None]
    near[row, :, area] = total * share
    return np.concatenate([near, c.likes[..., -1:]], axis=-1)
