"""What may be said of an area as a bed: limits on what the model of beds leaves open.

confirmed: the 95% interval of the days he bedded here begins at three or more; and on three days or
more his pictures show it, and on fewer he went the wrong way. They show it where he goes in or out
the right way in the light, and is not far off by full daylight the same day, or is there in full
daylight. The model knows no bed but those on the map, so who walks past to one that nobody drew
looks to it like one who beds here.
likely: at least 0.8 that he bedded here at least one day.
possible: at least 0.2 of that, or sign that points to a bed.
not shown: less, on 10 or more days covered.
not enough watch: less, on fewer.

So for each buck; an area's verdict is that of the likeliest who lives, a mature one before a
younger one with the same verdict or too close to call.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from camsign.answers.area_sign import AreaSign
from camsign.arrays import Ints
from camsign.stats.counts import days_until
from camsign.stats.estimate import tail
from camsign.units import counted

NOT_ENOUGH, NOT_SHOWN, POSSIBLE = "not enough watch", "not shown", "possible"
LIKELY, CONFIRMED = "likely", "confirmed"
RANK = {word: i for i, word in enumerate((NOT_ENOUGH, NOT_SHOWN, POSSIBLE, LIKELY, CONFIRMED))}
FEW_DAYS, DAYS = 10, 3
PROBABLE, MAYBE = 0.8, 0.2
# Not seen on so many last days covered, and at odds under this on the last: he has moved on.
# Common practice, no source.
MOVED_DAYS, MOVED_ON = 14, 0.1
# How often a new camera takes one who doesn't slip by at both ends of a day; as far as is counted.
BOTH_ENDS, MOST_DAYS = 0.25, 1000
# What people are told of one buck, and in a narrow cell; the words above stay in data.
SAID = {
    CONFIRMED: "He beds here",
    LIKELY: "Probably beds here",
    POSSIBLE: "May bed here",
    NOT_SHOWN: "Probably doesn't bed here",
    NOT_ENOUGH: "Can't tell yet",
}
SHORT = {
    CONFIRMED: "beds here",
    LIKELY: "probably",
    POSSIBLE: "maybe",
    NOT_SHOWN: "probably not",
    NOT_ENOUGH: "can't tell",
}
MEANINGS = {
    CONFIRMED: f"pictured headed in or out, or bedded, on {DAYS} days or more, and his days "
    f"bedded come to {DAYS} or more even at the low end",
    LIKELY: f"at least {PROBABLE:.0%} odds that he bedded here at least one day",
    POSSIBLE: f"at least {MAYBE:.0%} odds of that, or sign that points to a bed",
    NOT_SHOWN: f"under {MAYBE:.0%} odds, with {FEW_DAYS} or more days covered",
    NOT_ENOUGH: f"under {MAYBE:.0%} odds, but too few days covered to rule it out",
}


@dataclass(frozen=True, slots=True)
class DaysSeen:
    """Days on which one buck was seen at an area, as a hunter would count them.

    `mornings`, `evenings`: coming in, going out, with the way told or not; `both` on one day.
    `directed`: both, in and out by told ways, in the light. `shown`: one of them, not far off by
    full daylight that day, or there in full daylight (`inside`).
    `wrong`: going out in the morning light or in at evening. `far`: by full daylight too far off.
    """

    mornings: int
    evenings: int
    both: int
    directed: int
    shown: int
    inside: int
    wrong: int
    far: int

    @property
    def there(self) -> bool:
        """Whether any picture has to do with a bed here."""
        return bool(self.mornings or self.evenings or self.inside or self.wrong)

    def lacks(self) -> str | None:
        """Say what is missing to tell a bed here from one beyond that nobody has drawn."""
        if self.shown < DAYS:
            return f"his pictures show him headed in or out, or bedded, on fewer than {DAYS} days"
        if self.wrong >= self.shown:
            wrong, right = counted(self.wrong, "day"), counted(self.shown, "day")
            return f"he went the wrong way for a bed on {wrong}, and the right way on {right}"
        return None

    def in_words(self) -> str:
        """Say what was seen, the strongest first."""
        if self.directed:
            days = counted(self.directed, "day")
            return f"was caught going in at dawn and coming out at dusk on {days}"
        ends = self.ends_in_words()
        lit = f"there in full daylight on {counted(self.inside, 'day')}" if self.inside else ""
        if lit and not ends:
            return f"was {lit}"
        if self.both:
            return f"was seen near it at dawn and at dusk on {counted(self.both, 'day')}"
        if ends:
            return f"was pictured near it on {ends}{lit and f', and {lit}'}"
        return "was not pictured near it at dawn or dusk"

    def ends_in_words(self) -> str:
        """Say how often he was seen at either end of a day: which way he went may not be told."""
        many = ((self.mornings, "morning"), (self.evenings, "evening"))
        return " and ".join(counted(n, word) for n, word in many if n)


def verdict_of(seen: DaysSeen, days: Ints, days_watched: int) -> str:
    """Give the word for one buck.

    Args:
        seen: what was seen of him.
        days: days bedded, in equally likely draws.
        days_watched: days covered.
    """
    if _surely(days) and seen.lacks() is None:
        return CONFIRMED
    once = float((days >= 1).mean())
    if once >= PROBABLE:
        return LIKELY
    if once >= MAYBE:
        return POSSIBLE
    return NOT_SHOWN if days_watched >= FEW_DAYS else NOT_ENOUGH


def _surely(days: Ints) -> bool:
    """Whether a 95% interval of the days he bedded here begins at enough."""
    return float((days < DAYS).mean()) < tail(0.95)


def why_of(seen: DaysSeen, days: Ints, days_watched: int, waiting: bool = False) -> list[str]:
    """Give the reasons for one buck's verdict: what anyone can count, then what it amounts to.

    `waiting`: too many nights wait to be sorted to call him more than possible without what shows.
    """
    three, once = float((days >= DAYS).mean()), float((days >= 1).mean())
    headed = f"; on {seen.directed} of them the way he was headed shows it" if seen.directed else ""
    why = [
        f"pictured near it on {seen.ends_in_words() or 'no morning or evening'}, both on "
        f"{seen.both} of {counted(days_watched, 'day')} covered at dawn and dusk{headed}"
    ]
    for count, words in (
        (seen.inside, "there in full daylight on {}"),
        (seen.wrong, "going the wrong way for a bed on {}"),
        (seen.far, "far off in full daylight on {}"),
    ):
        if count:
            why.append(words.format(counted(count, "day")))
    odds = f"{percent(three)} that he bedded here at least {DAYS} days"
    other = f", {percent(once)} at least one" if percent(once) != percent(three) else ""
    why.append(f"all of it together: {odds}{other}")
    if waiting and once >= PROBABLE:
        why.append("too many nights aren't sorted, so all we'll say is he may bed here")
    elif _surely(days) and (lacks := seen.lacks()):
        why.append(
            f"{lacks}, so all we'll say is probably: a trail to a bed that isn't on your map would "
            "look the same"
        )
    return why


def days_against_words(judged: Sequence[tuple[str, str, float, float | None]]) -> str | None:
    """Say what verdicts go by, where somebody has more days and yet the lesser one.

    Args:
        judged: each buck's name, verdict, odds of a day at least, and days bedded, likeliest first.
    """
    for (name, word, once, days), (other, less, rarer, more) in combinations(judged, 2):
        if word != CONFIRMED and RANK[less] < RANK[word] and (more or 0) > (days or 0):
            return (
                "the verdict goes by the odds he bedded here even once, not by how many days: "
                f"{name} {percent(once)}, {other} {percent(rarer)}. From {MAYBE:.0%}: may bed "
                f"here. From {PROBABLE:.0%}: probably beds here"
            )
    return None


def percent(chance: float) -> str:
    """Write a chance that is never quite none nor all."""
    if chance > 0.99:
        return "over 99%"
    return "under 1%" if chance < 0.01 else f"{chance:.0%}"


def sign_points_to_bed(sign: AreaSign) -> str | None:
    """Say why sign alone makes a bed possible, or None.

    Rubs that nothing else explains: see `AreaSign.left`.
    """
    if sign.beds:
        return f"{counted(sign.beds, 'bed')} found nearby"
    if sign.outward:
        return f"{sign.rubs} rubs head outward in {sign.sectors_out} of 8 directions"
    return None


def days_to_settle(share: float | None, habits: tuple[float, float]) -> int:
    """How many days of watch make a day seen at both ends on 3 days likely (four in five).

    A new camera on the trail that leads in takes half of his passes at each end of a day in bed
    (common practice, no source), unless he slips by.

    Args:
        share: of days bedded; 0.3 if unknown, and not under 0.05.
        habits: how often he keeps his bed for another day, and slips by there (`Known.habits`).
    """
    keep, hidden = habits
    there = max(share if share is not None else 0.3, 0.05)
    return days_until(DAYS, BOTH_ENDS * (1 - hidden), there, keep, PROBABLE, MOST_DAYS)
