"""The chances behind a season of beds, and how likely they make what was seen.

On a day in bed in an area he slips by every camera with a chance (hidden), or else passes one in
reach at each end with a chance by the set of cameras that watched: at dawn inward, at dusk outward,
with some directions read wrong. Besides, on any day, he may pass for other reasons, by night, by
half light and by day, whichever way he uses there: the same ways at both ends. Seen far off by full
daylight he hardly bedded there, and seen inside its outline he seldom bedded anywhere else.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from camsign.arrays import Bools, Floats, Ints, Singles
from camsign.stats.beds_evidence import DARK, EVENING, IN, LIT, OUT, UNTOLD, Evidence, Looks

# Seen far off by full daylight on a day in bed: an excursion (common practice, no source).
STRAYS = 0.03
# Seen inside the outline by full daylight on a day not in bed there (common practice, no source).
WANDERS = 0.2
# Three ways, each a third of the circle: what a told way is worth against one that is not.
WAYS = 3
FITS, CROSSES, MISFITS = 0, 1, 2
# What lies behind every day, buck and area is kept in half the room: its errors are far below those
# of drawing.
SINGLE = np.float32
# Of days on which he does not slip by the cameras, and of those on which he does.
Ratios = tuple[Singles, Singles]
# Of each picture: see `worth`.
Worths = tuple[Floats, Floats, Floats]


@dataclass(slots=True, eq=False)
class Chances:
    """Chances of one or more chains (first axis): bucks, then areas or sets of cameras, then kinds.

    `passes` (…, sets + 1, ends): the last set is no camera, never passed; `trails` (…, sets): each
    buck's own chance around which those of both ends lie. `hidden`, `stirs` (…, areas). `others`
    (…, areas, 3): a picture for other reasons in a stretch of the night, as one of those who walk
    through at an end of a day, by day. `ways` (…, areas, 3): of those. `dark` (…, ends): of passes
    to and from bed, and of walks through, in the dark half.
    `fits` (chains, 2, 3): by outside or inside camera, the way fits, crosses, or is the reverse.
    `roams` (chains, bucks): on a day elsewhere, in full daylight far from every area.
    `keeps` (chains, bucks), `likes` (chains, bucks, areas + 1). `used` (chains, areas): somebody
    beds there; else nobody likes it.
    """

    passes: Floats
    trails: Floats
    hidden: Floats
    stirs: Floats
    others: Floats
    ways: Floats
    dark: Floats
    fits: Floats
    roams: Floats
    keeps: Floats
    likes: Floats
    used: Bools


def fit_of(way: Ints, end: Ints) -> Ints:
    """Say whether a told way fits the end of a day in bed, crosses, or is the reverse."""
    mirrored = np.where(end == EVENING, IN + OUT - way, way)
    return np.where(way == UNTOLD, FITS, mirrored - 1)


def by_the_way(others: Floats, dark: Floats, half: Ints) -> Floats:
    """Give the chance of a picture for other reasons at a half of an end.

    Who walks through at dusk and dawn keeps his hours, as on the way to bed: so many of them before
    light. Besides he passes by night. Were the dark half night alone, a corridor's early walkers
    would look like bucks on their way to bed.
    """
    night, walk = others[..., 0], others[..., 1]
    found: Floats = np.where(half == LIT, walk * (1 - dark), night + (1 - night) * walk * dark)
    return found


def worth(e: Evidence, c: Chances, chain: Ints, looks: Looks) -> Worths:
    """Give for each picture his chance to pass, and how many times likelier a day in bed makes it.

    Against a day not in bed here: (1 - p) · slip + p · his half · his way / (others · their way),
    and `slip`, the same of a day on which he slips by the cameras and passes one for other reasons.
    By night such a pass may go any way. In the light it is the day's last before bed, or its first
    after, so that it fits as often as a pass to bed does: slip = his way / their way.

    Args:
        e: the season.
        c: the chances.
        chain: of each look, the chain.
        looks: the looks.
    """
    sets = e.watch[looks.day, looks.area]
    # Places in flat arrays: one index each, of four.
    bucks, many = c.passes.shape[1:3]
    who = chain * bucks + looks.buck
    where = who * c.others.shape[2] + looks.area
    p = c.passes.reshape(-1).take((who * many + sets % many) * 2 + looks.end)
    dark = c.dark.reshape(-1).take(who * 2 + looks.end)
    right, way = _told(c, chain, looks, where)
    other = by_the_way(c.others.reshape(-1, 3).take(where, axis=0), dark, looks.half)
    half = np.where(looks.half == DARK, dark, 1 - dark)
    by_way = right / way
    slip = np.where(looks.half == LIT, by_way, 1.0)
    return p, (1 - p) * slip + p * half * by_way / other, slip


def _told(c: Chances, chain: Ints, looks: Looks, where: Ints) -> tuple[Floats, Floats]:
    """Give how often a day in bed, and other reasons, go the told way; 1 each if none was told."""
    right, way = np.ones((2, len(chain)))
    told = np.flatnonzero(looks.way != UNTOLD)
    fit = fit_of(looks.way[told], looks.end[told])
    kind = (chain[told] * 2 + looks.inside[told]) * WAYS + fit
    right[told] = c.fits.reshape(-1).take(kind)
    way[told] = c.ways.reshape(-1).take(where[told] * WAYS + looks.way[told] - 1)
    return right, way


def day_ratios(e: Evidence, c: Chances, chain: Ints, looks: Looks, worths: Worths) -> Ratios:
    """How many times likelier a day in bed makes what was seen than not being there.

    First if he does not slip by, then if he does: (days, areas, chains, bucks) each. `worths`: of
    the looks.
    """
    found = _unseen(e, c)
    _stirring(e, c, found)
    p, r, slip = worths
    slipped = np.ones_like(found)
    at = np.ravel_multi_index((looks.day, looks.area, chain, looks.buck), found.shape)
    np.multiply.at(found.reshape(-1), at, (r / (1 - p)).astype(SINGLE))
    np.multiply.at(slipped.reshape(-1), at, slip.astype(SINGLE))
    return found, slipped


def _unseen(e: Evidence, c: Chances) -> Singles:
    """Give the ratios of days without a picture, which days of one set of cameras share."""
    area = np.zeros(c.passes.shape[2], dtype=int)
    area[e.watch] = np.arange(e.areas)
    by_set = (1 - c.passes[..., 0]) * (1 - c.passes[..., 1])
    by_set[..., :-1] *= 1 - c.stirs[..., area[:-1]]
    return behind(by_set).take(e.watch, axis=0, mode="wrap")


def behind(each: Floats) -> Singles:
    """Put chains and bucks behind what there is one of for each of them; in single floats."""
    return np.ascontiguousarray(np.moveaxis(each, -1, 0), dtype=SINGLE)


def _stirring(e: Evidence, c: Chances, ratios: Singles) -> None:
    """Put the ratios of days on which he was seen in full daylight in their place."""
    buck, day, area = np.nonzero(e.stirred & (e.watch >= 0))
    p = c.passes[:, buck, e.watch[day, area]]
    mid, other = c.stirs[:, buck, area], c.others[:, buck, area, 2]
    lying = (1 - p[..., 0]) * (1 - p[..., 1]) * ((1 - mid) + mid / other)
    ratios[day, area, :, buck] = lying.T


def said(e: Evidence, c: Chances, ratios: Ratios) -> Singles:
    """Give the likelihood of each day in each area and elsewhere (the last), but for a factor.

    (days, areas + 1, chains, bucks).
    """
    seen, slipped = ratios
    hidden = behind(c.hidden)
    found = np.ones((e.days, e.areas + 1, *seen.shape[2:]), dtype=SINGLE)
    here = found[:, :-1]
    np.multiply(1 - hidden, seen, out=here)
    here += hidden * slipped
    for there, factor in ((e.far, STRAYS), (e.within, 1 / WANDERS)):
        buck, day, area = np.nonzero(there)
        found[day, area, :, buck] *= SINGLE(factor)
    # Who is seen far off is hardly in bed here; so who is not is a little likelier to be.
    found[:, -1] = (1 - c.roams) / (1 - STRAYS * c.roams)
    buck, day = np.nonzero(roaming(e))
    found[day, -1, :, buck] = 1.0
    return found


def roaming(e: Evidence) -> Bools:
    """Mark the days each buck was seen in full daylight far from every area: (bucks, days)."""
    found: Bools = np.logical_and.reduce(e.far, axis=2)
    return found
