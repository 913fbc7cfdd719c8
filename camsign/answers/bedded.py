"""One buck as seen bedding at an area, who of several is named first, and the headline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from camsign.answers import verdict as rules
from camsign.answers.result import SPARE, Figure, Watch, days_in_words, listed, nothing_watched
from camsign.units import counted, lower_first


@dataclass(frozen=True, slots=True)
class BeddedBuck:
    """One buck at the area. `mornings`, `evenings`, `both`: days seen at that end (both: at both).

    `directed_days`: in at dawn and out at dusk by the way he went; `inside_days`: there in full
    daylight; `contradicting_days`: in full daylight farther off than `apart`. `days_bedded`, and as
    a `share` of the days covered. `three_days`, `one_day`: odds that he bedded here on so many days
    or more. `ended`: the day he ended, if by the last day asked for. `age`: his age in years that
    season.
    """

    buck: str
    buck_id: str
    mornings: int
    evenings: int
    both: int
    directed_days: int
    inside_days: int
    days_bedded: Figure
    share: Figure
    three_days: float
    one_day: float
    contradicting_days: int
    verdict: str
    said: str
    why: tuple[str, ...]
    ended: date | None = field(default=None, metadata=SPARE)
    age: float | None = field(default=None, metadata=SPARE)

    @property
    def named(self) -> str:
        """His name with his age: `Twig (1.5)`, and that he is gone: `Elder (5.5, ended)`."""
        gone = ", ended" * bool(self.ended)
        return f"{self.buck} ({'no age yet' if self.age is None else f'{self.age:g}'}{gone})"


def is_mature(buck: BeddedBuck, mature_age: float) -> bool:
    """Whether he was old enough that season, as far as anyone knows."""
    return buck.age is not None and buck.age >= mature_age


def oldest_first(bucks: Sequence[BeddedBuck], mature_age: float) -> list[BeddedBuck]:
    """Give the mature ones first, else in the order given: so people are shown them."""
    return sorted(bucks, key=lambda b: not is_mature(b, mature_age))


def mature_before(bucks: Sequence[BeddedBuck], mature_age: float) -> tuple[BeddedBuck, ...]:
    """Put each mature buck before the younger ones ahead of him that are no surer than he is."""
    found: list[BeddedBuck] = []
    for buck in bucks:
        at = len(found)
        while is_mature(buck, mature_age) and at and not is_mature(found[at - 1], mature_age):
            if not _too_close(found[at - 1], buck):
                break
            at -= 1
        found.insert(at, buck)
    return tuple(found)


def _too_close(ahead: BeddedBuck, buck: BeddedBuck) -> bool:
    """Whether one has the same verdict as who is ahead, or his days lie in that one's interval."""
    if (ahead.ended is None) != (buck.ended is None):
        return False
    if rules.RANK[buck.verdict] < rules.RANK[rules.POSSIBLE]:
        return ahead.verdict == buck.verdict
    days = buck.days_bedded.value or 0.0
    return ahead.verdict == buck.verdict or days >= (ahead.days_bedded.low or 0.0)


def likeliest_first(buck: BeddedBuck) -> tuple[float, ...]:
    """Give the key that puts who is likeliest to bed there first, and who ended last."""
    rank = rules.RANK[buck.verdict]
    ends = buck.mornings + buck.evenings
    return buck.ended is not None, -rank, -(buck.days_bedded.value or 0), -buck.three_days, -ends


def bedder(found: Sequence[BeddedBuck]) -> BeddedBuck | None:
    """Give the likeliest living buck, if it is possible at least that he beds there."""
    best = next((b for b in found if b.ended is None), None)
    return best if best and rules.RANK[best.verdict] >= rules.RANK[rules.POSSIBLE] else None


def said_of(
    word: str, rule: str, found: Sequence[BeddedBuck], watch: Watch, mature_age: float = 0.0
) -> str:
    """Give the headline: who beds there, what was seen of him, how many days that makes, and which
    younger bucks may as well."""
    days = watch.days_watched
    if word == rules.NOT_SHOWN:
        before = bedded_before(found)
        living = "living " * bool(before)
        shows = f"nothing shows one in {days_in_words(days)}"
        return f"{before}Probably no {living}buck beds here: {shows}{watch.but_unsorted}."
    his = bedder(found)
    if his is None and word == rules.POSSIBLE:
        return f"A buck may bed here: {rule}{_pictures_say(watch)}."
    if watch.waiting and his is None:
        return f"Can't tell yet: {watch.waiting}."
    if his is None:
        return f"{rules.SAID[word]}: {rule}{watch.but_unsorted}."
    seen = rule.removeprefix(f"{his.buck} ")
    told = f"{his.buck} {_BEDS[word]} here. He {seen}. {_days_said(his, days)}"
    told += _too(his, found, mature_age)
    return f"{told} But {waits}. Sort them first." if (waits := _much_waits(watch)) else told


def bedded_before(found: Sequence[BeddedBuck]) -> str:
    """Say which bucks bedded here, as far as it is possible at least, until they ended."""
    gone = [b for b in found if b.ended and rules.RANK[b.verdict] >= rules.RANK[rules.POSSIBLE]]
    return "".join(f"{b.buck} {_BEDDED[b.verdict]} here until he ended {b.ended}. " for b in gone)


NO_BUCK = "Probably no mature buck beds here (can't rule out a day or so)"


def no_one(bed: Figure) -> str:
    """Say that no single mature buck likely beds here, and how many of them may have."""
    low, high = bed.low or 0.0, bed.high or 0.0
    if not bed.value:
        return NO_BUCK
    return (
        f"No mature buck stands out as bedding here, but {bed.value:.0f} of them may have at least "
        f"once (anywhere from {f'{low:.0f}' if low else 'none'} to {high:.0f})"
    )


def _too(his: BeddedBuck, found: Sequence[BeddedBuck], mature_age: float) -> str:
    """Name the younger bucks who would be named before the mature one if it were not for age."""
    if not is_mature(his, mature_age):
        return ""
    also = [
        b
        for b in found
        if not is_mature(b, mature_age) and likeliest_first(b) < likeliest_first(his)
    ]
    if not also:
        return ""
    sure = all(b.verdict == rules.CONFIRMED for b in also)
    verb = f"bed{'s' * (len(also) == 1)}" if sure else "may bed"
    return f" {listed([b.named for b in also])} {verb} here too."


def _much_waits(watch: Watch) -> str | None:
    return watch.unsorted_in_words() if watch.much_waits else None


def _pictures_say(watch: Watch) -> str:
    """Say what pictures add where sign alone speaks for a bed: nothing, if nobody looked."""
    if waits := _much_waits(watch):
        return f". Pictures can't say yet: {waits}"
    if not watch.days_watched:
        return f". Pictures can't say: {lower_first(nothing_watched([watch]).rstrip('.'))}"
    return ", but no picture shows a buck bedding here"


_BEDS = {rules.CONFIRMED: "beds", rules.LIKELY: "probably beds", rules.POSSIBLE: "may bed"}

_BEDDED = {
    rules.CONFIRMED: "bedded",
    rules.LIKELY: "probably bedded",
    rules.POSSIBLE: "may have bedded",
}


def _days_said(his: BeddedBuck, days: int) -> str:
    """Say how many days he bedded here by all that is known: a range where that tells more."""
    low, high = his.days_bedded.low or 0, his.days_bedded.high or 0
    if his.verdict == rules.CONFIRMED:
        many = f"about {his.days_bedded.value or 0:.0f}"
    else:
        many = f"anywhere from {f'{low:.0f}' if low else 'none'} to {high:.0f}"
    walked = his.verdict != rules.CONFIRMED and his.inside_days > low
    of = f"{counted(days, 'day')}{': he may have only walked through by day' * walked}"
    if his.verdict == rules.POSSIBLE and low:
        return f"Going by the nights you have sorted, he bedded here on {many} of {of}."
    return f"Counting days he slipped past the cameras, he bedded here on {many} of {of}."
