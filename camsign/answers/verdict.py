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
_DIRECTED, _INSIDE = "in and out by known direction", "inside in full daylight"
_LIT_BOTH = "in the light at both ends"
# A bedding area in steady use seldom has few rubs (common practice, no source).
FEW_RUBS, SECTORS_OUT = 10, 4


def verdict_of(ends: Ends, days_watched: int) -> tuple[str, list[str]]:
    """Give the verdict on one buck's use of an area, with the rule met and the reasons in words."""
    known = ends.agreeing + ends.disagreeing
    word, rule = _met([ends], days_watched)
    why = [rule, *(line for line in _counted(ends) if line not in rule)]
    if not _fits([ends]):
        why.append(
            f"{ends.disagreeing} of {known} directions are those of walking through, not of a bed"
        )
    if word == LIKELY and not known and not ends.inside.any():
        why.append("which way he went is not known, so it stops at likely")
    return word, why


def area_verdict(
    bucks: Sequence[Ends], sign: AreaSign, days_watched: int, names: Sequence[str] = ()
) -> tuple[str, str]:
    """Give the verdict on an area, and the rule that was met in words.

    By the ends of its bucks' days, one buck's (`names`: theirs) or all taken together; possible by
    sign alone.
    """
    together = _met(bucks, days_watched)
    mine = [_met([ends], days_watched) for ends in bucks]
    best = max([*mine, together], key=lambda met: RANK[met[0]])
    word, rule = best
    if RANK[word] < RANK[POSSIBLE]:
        return (POSSIBLE, "by its sign alone") if sign_points_to_bed(sign) else (word, rule)
    alone = [i for i, met in enumerate(mine) if met[0] == word]
    if not alone:
        return word, f"the days of its bucks taken together, {rule}"
    who = f"{names[alone[0]]} " if names else ""
    return word, f"{who}{mine[alone[0]][1]}"


def _met(bucks: Sequence[Ends], days_watched: int) -> tuple[str, str]:
    """Apply the rules to the days of one or more bucks: the verdict, and the rule in words.

    Two bucks on one day are one day.
    """
    directed = [e.directed for e in bucks] if _fits(bucks) else []
    inside = [e.inside for e in bucks]
    strong, both = _days([*directed, *inside]), _days([e.lit_both for e in bucks])
    if strong:
        shown = [w for w, d in ((_DIRECTED, directed), (_INSIDE, inside)) if _days(d)]
        how = f"{' or '.join(shown)} on {counted(strong, 'day')}"
        few = f"likely on 1 or {DAYS - 1}, confirmed from {DAYS} on"
        return (
            (CONFIRMED, f"{how}: {DAYS} confirm it")
            if strong >= DAYS
            else (LIKELY, f"{how}: {few}")
        )
    if _fits(bucks) and both >= DAYS:
        return LIKELY, f"{_LIT_BOTH} on {counted(both, 'day')}: likely from {DAYS} on"
    if ends := _days([e.lit_any for e in bucks]):
        return POSSIBLE, f"in the light at one end or both on {counted(ends, 'day')}"
    seen = f"none of the marks of a bed on {counted(days_watched, 'day')} watched"
    return (
        (NOT_SHOWN, seen) if days_watched >= FEW_DAYS else (NOT_ENOUGH, f"{seen}, too few to say")
    )


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
    if sign.rubs >= FEW_RUBS and sign.sectors_out >= SECTORS_OUT and sign.left:
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
        (ends.lit_both, f"{_LIT_BOTH} on {{}}"),
        (ends.directed, f"{_DIRECTED} on {{}}"),
        (ends.inside, f"{_INSIDE} on {{}}"),
        (ends.contradicted, "on {} he was far off by daylight"),
    ):
        if days.any():
            why.append(words.format(counted(int(days.sum()), "day")))
    return why
