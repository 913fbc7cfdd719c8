"""A daylight-saving step that leaves few pictures behind it: never called right by default."""

from __future__ import annotations

import numpy as np
import pytest

from camsign.clock import verdicts
from camsign.clock.light import DAY_STEPS
from camsign.clock.offset_models import Step, Story
from camsign.clock.verdicts import RIGHT, UNCLEAR, counted_verdicts
from camsign.stats.estimate import Estimate


def story(chance: float) -> Story:
    share = np.zeros(DAY_STEPS)
    share[DAY_STEPS // 2] = 1.0
    step = Step(at=1_762_063_200.0, seconds=3600)
    return Story(share=share, drift={0: 1.0}, step=step, step_chance=chance, evidence=0.0)


@pytest.mark.parametrize("since", [1, 3, 60])
def test_few_pictures_behind_a_switch_do_not_make_a_clock_right(since: int) -> None:
    verdict, why = verdicts._verdict(story(0.3), Estimate(0.0, -5.0, 5.0), 20, 20, since)
    assert verdict == UNCLEAR and "daylight saving" in why and f"only {since} burst" in why
    excluded, _ = verdicts._verdict(story(0.01), Estimate(0.0, -5.0, 5.0), 20, 20, since)
    assert excluded == RIGHT


def test_the_summary_counts_right_and_cannot_tell_apart() -> None:
    """As docs/voice has it: 7 checked: 5 right, 2 can't tell."""
    seven = ["right"] * 5 + ["cannot tell"] * 2
    assert counted_verdicts(seven) == "7 checked: 5 right, 2 can't tell"
    assert counted_verdicts([*seven, "off"]) == "8 checked: 5 right, 1 wrong, 2 can't tell"
    assert counted_verdicts(["off", "off"], 1) == "2 checked: 2 wrong (1 of them fixed)"
    assert counted_verdicts([]) == "0 checked"
