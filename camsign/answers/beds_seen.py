"""What was seen of one buck at one area, counted by days: what anyone can check in the pictures."""

from __future__ import annotations

import numpy as np

from camsign.answers.beds_input import BedsInput
from camsign.answers.beds_known import Known, area_at, buck_at, mask_of
from camsign.answers.verdict import DaysSeen
from camsign.arrays import Bools, Times
from camsign.stats.beds_chances import FITS, MISFITS, fit_of
from camsign.stats.beds_evidence import EVENING, LIT, MORNING, UNTOLD


def seen_at(known: Known, buck_id: str, area_id: str, wanted: Times) -> DaysSeen:
    """Count the wanted days by what they show of a buck at an area."""
    total = [0] * 8
    for read, _ in known.seasons:
        buck, area = buck_at(read, buck_id), area_at(read, area_id)
        if buck is not None and area is not None:
            marks = marks_of(read, buck, area)
            wish = mask_of(read, wanted)
            total = [n + int((days & wish).sum()) for n, days in zip(total, marks, strict=True)]
    return DaysSeen(*total)


def marks_of(read: BedsInput, buck: int, area: int) -> tuple[Bools, ...]:
    """Mark the days of a season, in the order of the fields of `DaysSeen`."""
    e = read.evidence
    mine = (e.looks.buck == buck) & (e.looks.area == area)
    day, end, way = (x[mine] for x in (e.looks.day, e.looks.end, e.looks.way))
    lit, fit = e.looks.half[mine] == LIT, fit_of(way, end)

    def mark(rows: Bools) -> Bools:
        found = np.zeros(e.days, dtype=bool)
        found[day[rows]] = True
        return found

    fits, told = fit == FITS, way != UNTOLD
    mornings, evenings = mark((end == MORNING) & fits), mark((end == EVENING) & fits)
    directed = mark((end == MORNING) & fits & told & lit) & mark(
        (end == EVENING) & fits & told & lit
    )
    inside, far = e.stirred[buck, :, area], e.far[buck, :, area]
    shown = mark(fits & told & lit) | inside
    wrong = mark(told & (fit == MISFITS) & lit)
    return mornings, evenings, mornings & evenings, directed, shown, inside, wrong, far


def directions_untold(known: Known, area_id: str, wanted: Times) -> int:
    """Count the ends of days at an area of which nobody told the way."""
    total = 0
    for read, _ in known.seasons:
        area = area_at(read, area_id)
        if area is not None:
            looks = read.evidence.looks
            rows = (looks.area == area) & (looks.way == UNTOLD)
            total += int(mask_of(read, wanted)[looks.day[rows]].sum())
    return total
