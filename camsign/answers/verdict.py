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
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from camsign.answers.area_sign import AreaSign
    from camsign.answers.ends import Ends

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
    fits = known == 0 or ends.agreeing / known >= AGREE
    strong = int((ends.inside | ends.directed).sum() if fits else ends.inside.sum())
    why = _counted(ends)
    if not fits:
        why.append(
            f"{ends.disagreeing} of {known} directions are those of walking through, not of a bed"
        )
    if strong >= DAYS:
        return CONFIRMED, why
    if strong or (fits and ends.lit_both.sum() >= DAYS):
        if not known and not ends.inside.any():
            why.append("which way he went is not known, so it stops at likely")
        return LIKELY, why
    if ends.lit_any.any():
        return POSSIBLE, why
    return (NOT_SHOWN if days_watched >= FEW_DAYS else NOT_ENOUGH), why


def area_verdict(verdicts: Sequence[str], sign: AreaSign, days_watched: int) -> str:
    """Give the verdict on an area: the best of its bucks', or possible by sign alone."""
    nothing = NOT_SHOWN if days_watched >= FEW_DAYS else NOT_ENOUGH
    best = max(verdicts, key=lambda word: RANK[word], default=nothing)
    if RANK[best] < RANK[POSSIBLE] and sign_points_to_bed(sign):
        return POSSIBLE
    return best


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
        f"seen coming in on {both + morning} mornings, going out on {both + evening} evenings, "
        f"both on {both} of {watched} days"
    ]
    for days, words in (
        (ends.lit_both, "in the light at both ends on {} days"),
        (ends.directed, "in and out by known direction on {} days"),
        (ends.inside, "inside in full daylight on {} days"),
        (ends.contradicted, "on {} days he was far off by daylight"),
    ):
        if days.any():
            why.append(words.format(int(days.sum())))
    return why
