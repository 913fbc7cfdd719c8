"""All that the audit says of invented clocks of every kind (clock_small.py), whole.

clock_small.json keeps it, so that no change goes unseen. It was not taken on trust: here the
offsets are held against how wrong each clock was made; test_clock_audit.py puts the frames right
by what is proposed. The words were read line by line.
"""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from clock_season import KINDS
from clock_small import KEPT, all_told, cases
from test_answers_small import differences


@pytest.fixture(scope="module")
def said() -> dict[str, Any]:
    return all_told()


def test_every_finding_is_the_kept_one(said: dict[str, Any]) -> None:
    kept = json.loads(KEPT.read_text(encoding="utf-8"))
    assert kept.keys() == said.keys()
    found = [d for name in kept for d in differences(kept[name], said[name], name, 1e-3)]
    assert not found, "\n".join(found[:20])


@pytest.mark.parametrize("kind", [k for k in KINDS if k not in ("reset", "switch")])
def test_offsets_are_those_the_clocks_were_made_with(said: dict[str, Any], kind: str) -> None:
    (finding,) = said[kind]["findings"]
    one = cases()[kind]
    ahead = float(np.mean(one.read.shots.read_s - one.true_s)) / 60
    off = finding["offset_minutes"]
    assert finding["verdict"] != "cannot tell"
    # Light cannot tell a day.
    assert abs((off["value"] - ahead + 720) % 1440 - 720) < 20
    assert off["low"] < off["value"] < off["high"] <= off["low"] + 60
    assert finding["frames"] == len(one.true_s)


def test_a_clock_set_anew_is_parted_and_lost_ones_are_placed(
    said: dict[str, Any],
) -> None:
    first, second = said["set anew with the second card"]["findings"]
    assert (first["verdict"], second["verdict"]) == ("right", "off")
    assert abs(second["offset_minutes"]["value"] - 300) < 20
    assert [f["verdict"] for f in said["two cards"]["findings"]] == ["right"]
    assert [f["verdict"] for f in said["reset"]["findings"]] == ["right", "reset"]
    (lost,) = said["never dated"]["findings"]
    # Five years of 365 days back, put right by the day and by the light's hour.
    assert lost["verdict"] == "impossible date"
    hung = cases()["never dated"]
    left = hung.read.shots.shown_s + lost["place_by_shift_s"] - hung.true_s
    assert np.abs((left + 43200) % 86400 - 43200).max() < 20 * 60


def test_proposals_take_off_what_the_clocks_were_made_with(said: dict[str, Any]) -> None:
    (shift,) = said["an hour"]["proposed"][0]["hung"]
    hour = float(np.mean(cases()["an hour"].read.shots.read_s - cases()["an hour"].true_s))
    assert (shift["kind"], shift["value"]) == ("shift", -hour)
    (step,) = said["switch"]["proposed"][0]["hung"]
    assert step["kind"] == "local"
    assert said["right"]["proposed"] == [{"hung": [], "local": [], "corrected": []}]
    # A clock already corrected is corrected further, by pairs over each of its pieces.
    kinds = [c["kind"] for c in said["an hour"]["proposed"][0]["corrected"]]
    assert kinds == ["pairs", "pairs"]
