"""What may be said of an area as a bed, by fixed rules.

Lit: within half an hour before sunrise to two hours after, or mirrored at sunset. Directed: lit at
both ends of one day, towards the area by the last known direction of the morning and away from it
by the first of the evening; since a corridor is walked the same way at both ends, four of five
known directions must fit. Inside: within the area in full daylight.

confirmed: directed or inside on 3 or more days.
likely: lit at both ends on 3 or more days, or directed or inside on 1 or 2.
possible: lit at one end, or sign that points to a bed.
not shown: none of these, on 10 or more days watched.
not enough watch: none of these on fewer.

So for each buck; an area's verdict is the best of its bucks', or that of all their days and
directions taken together: three days of three bucks show a bed as three of one do. Both ends of a
day are always one buck's.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import TYPE_CHECKING

from camsign.answers.shape import counted

if TYPE_CHECKING:
    from camsign.answers.area_sign import AreaSign
    from camsign.answers.ends import Ends
    from camsign.answers.seen import Bools

NOT_ENOUGH, NOT_SHOWN, POSSIBLE = "not enough watch", "not shown", "possible"
LIKELY, CONFIRMED = "likely", "confirmed"
RANK = {word: i for i, word in enumerate((NOT_ENOUGH, NOT_SHOWN, POSSIBLE, LIKELY, CONFIRMED))}
FEW_DAYS = 10
DAYS = 3
AGREE = 0.8
# A bedding area in steady use seldom has few rubs (common practice, no source).
FEW_RUBS, SECTORS_OUT = 10, 4


def verdict_of(ends: Ends, days_watched: int) -> tuple[str, list[str]]:
    """Give the verdict on one buck's use of an area, with the reasons in words."""
    known = ends.agreeing + ends.disagreeing
    word, why = _word([ends], days_watched), _counted(ends)
    if not _fits([ends]):
        why.append(
            f"{ends.disagreeing} of {known} directions are those of walking through, not of a bed"
        )
    if word == LIKELY and not known and not ends.inside.any():
        why.append("which way he went is not known, so it stops at likely")
    return word, why


def area_verdict(bucks: Sequence[Ends], sign: AreaSign, days_watched: int) -> str:
    """Give the verdict on an area, from the ends of its bucks' days; possible by sign alone."""
    words = [_word([ends], days_watched) for ends in bucks]
    best = max([*words, _word(bucks, days_watched)], key=lambda word: RANK[word])
    if RANK[best] < RANK[POSSIBLE] and sign_points_to_bed(sign):
        return POSSIBLE
    return best


def _word(bucks: Sequence[Ends], days_watched: int) -> str:
    """Apply the rules to the days of one or more bucks; two bucks on one day are one day."""
    fits = _fits(bucks)
    strong = _days([e.inside | e.directed if fits else e.inside for e in bucks])
    if strong >= DAYS:
        return CONFIRMED
    if strong or (fits and _days([e.lit_both for e in bucks]) >= DAYS):
        return LIKELY
    if _days([e.lit_any for e in bucks]):
        return POSSIBLE
    return NOT_SHOWN if days_watched >= FEW_DAYS else NOT_ENOUGH


def _fits(bucks: Sequence[Ends]) -> bool:
    agreeing = sum(e.agreeing for e in bucks)
    known = agreeing + sum(e.disagreeing for e in bucks)
    return known == 0 or agreeing / known >= AGREE


def _days(of_bucks: Sequence[Bools]) -> int:
    """Count the days on which it is so for any of them."""
    import numpy as np

    return int(np.logical_or.reduce(list(of_bucks)).sum()) if of_bucks else 0


def sign_points_to_bed(sign: AreaSign) -> str | None:
    """Say why sign alone makes a bed possible, or None."""
    if sign.beds:
        return f"{sign.beds} bed{'s' * (sign.beds > 1)} found in reach"
    if sign.rubs >= FEW_RUBS and sign.sectors_out >= SECTORS_OUT:
        return f"{sign.rubs} rubs head outward in {sign.sectors_out} of 8 sectors"
    return None


def days_to_settle(share: float | None) -> int:
    """How many days of watch make a directed day on 3 days likely (four in five).

    A day bedded is seen directed at both ends with a chance of about 0.2 (0.8 to pass, half at each
    end, common practice of this model's laws); `share` of days bedded, 0.3 if unknown.
    """
    from scipy.stats import nbinom

    chance = max(share if share is not None else 0.3, 0.05) * 0.2
    return ceil(float(nbinom.ppf(0.8, DAYS, chance))) + DAYS


def _counted(ends: Ends) -> list[str]:
    both, morning, evening, watched = ends.counts()
    why = [
        f"seen coming in on {counted(both + morning, 'morning')}, going out on "
        f"{counted(both + evening, 'evening')}, both on {both} of {counted(watched, 'day')}"
    ]
    for days, words in (
        (ends.lit_both, "in the light at both ends on {}"),
        (ends.directed, "in and out by known direction on {}"),
        (ends.inside, "inside in full daylight on {}"),
        (ends.contradicted, "on {} he was far off by daylight"),
    ):
        if days.any():
            why.append(words.format(counted(int(days.sum()), "day")))
    return why
