"""Every answer to a small logbook (answers_small.py), whole: each number, day and word of its JSON.

answers_small.json keeps them, so that no change of an answer goes unseen. It was not taken on
trust. Worked by hand from the scenes, and asserted below apart from it: visits, nights, light,
passes, watch, days at either end, courses of beds, sign by kind and season, what is fresh. Their
intervals are held against statsmodels and SciPy. The words were read line by line.
"""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from answers_small import BENCH, KEPT, answers, by_hand, small
from scipy.stats import chi2
from statsmodels.stats.proportion import proportion_confint

NEAR = 1e-6


@pytest.fixture(scope="module")
def said() -> dict[str, Any]:
    with by_hand():
        return answers(small())


def differences(kept: Any, now: Any, at: str, near: float = NEAR) -> list[str]:
    """Name each place at which two answers differ; numbers may by so large a part."""
    if isinstance(kept, dict) and isinstance(now, dict) and kept.keys() == now.keys():
        return [d for k in kept for d in differences(kept[k], now[k], f"{at}.{k}", near)]
    if isinstance(kept, list) and isinstance(now, list) and len(kept) == len(now):
        pairs = enumerate(zip(kept, now, strict=True))
        return [d for i, (a, b) in pairs for d in differences(a, b, f"{at}[{i}]", near)]
    numbers = all(isinstance(x, int | float) and not isinstance(x, bool) for x in (kept, now))
    if numbers and math.isclose(kept, now, rel_tol=near, abs_tol=near):
        return []
    return [] if kept == now else [f"{at}: kept {kept!r}, now {now!r}"]


def test_every_answer_is_the_kept_one(said: dict[str, Any]) -> None:
    kept = json.loads(KEPT.read_text(encoding="utf-8"))
    assert kept.keys() == said.keys()
    found = [d for name in kept for d in differences(kept[name], said[name], name)]
    assert not found, "\n".join(found[:20])


def _row(answer: Any, table: str, **where: Any) -> Any:
    (row,) = (r for r in answer[table] if all(r[k] == v for k, v in where.items()))
    return row


# By hand, of (visits, nights seen, on watch, day, gray, dark, unnamed there, doubtful). Split Brow
# at the bench: 4 mornings in gray light, 4 evenings by day, on October 26 one dark visit at two
# cameras and one 31 minutes later, then November 6 and 14 by day and 7 in gray light.
VISITS = {
    ("Split Brow", BENCH): (13, 9, 13, 6, 5, 2, 3, 1),
    ("Mud Hen", BENCH): (8, 7, 8, 1, 0, 7, 2, 0),
    ("Mud Hen", "Alder Fork"): (12, 12, 12, 5, 7, 0, 2, 0),
    ("Old Gone", BENCH): (2, 2, 2, 1, 1, 0, 2, 0),
}


@pytest.mark.parametrize(("buck", "area"), VISITS)
def test_visits_are_those_counted_by_hand(said: dict[str, Any], buck: str, area: str) -> None:
    row = _row(said["visits"], "rows", buck=buck, area=area)
    names = ("visits", "nights_seen", "on_watch", "day", "gray", "dark", "unidentified",
             "doubtful_time")  # fmt: skip
    n, *_ = VISITS[buck, area]
    assert tuple(row[name] for name in names) == VISITS[buck, area]
    # Wilson 1927 as statsmodels has it; Garwood 1936 by SciPy's chi-squared law.
    low, high = proportion_confint(row["day"] + row["gray"], n, method="wilson")
    assert row["shooting_light"]["low"] == pytest.approx(low)
    assert row["shooting_light"]["high"] == pytest.approx(high)
    # Old Gone ended on November 8: October 20 to that day, before the night that waits.
    nights = 20 if buck == "Old Gone" else {BENCH: 27, "Alder Fork": 16}[area]
    simple = row["per_100_nights_poisson"]
    assert simple["value"] == pytest.approx(100 * n / nights)
    assert simple["low"] == pytest.approx(100 * chi2.ppf(0.025, 2 * n) / 2 / nights)
    assert simple["high"] == pytest.approx(100 * chi2.ppf(0.975, 2 * n + 2) / 2 / nights)


def test_one_rate_over_the_other_is_the_other_way_round_its_inverse(said: dict[str, Any]) -> None:
    one = _row(said["visits against the fork"], "rows", buck="Mud Hen")["ratio"]
    other = _row(said["visits of the fork against"], "rows", buck="Mud Hen")["ratio"]
    assert one["value"] == pytest.approx(1 / other["value"], rel=0.02)
    assert one["low"] == pytest.approx(1 / other["high"], rel=0.02)
    # 8 visits on 26 days against 12 on 15; among all areas a row has its own area's other rate.
    assert one["value"] == pytest.approx(8 / 26 / (12 / 15), rel=0.3)
    rows = said["visits everywhere against"]["rows"]
    early = {(r["buck"], r["area"]): r["ratio"]["value"] for r in rows}
    assert early["Mud Hen", BENCH] < 1 < early["Split Brow", BENCH]
    assert early["Button", "Alder Fork"] is not None


def test_nights_and_days_of_watch_are_those_of_the_cameras(said: dict[str, Any]) -> None:
    """28 nights from October 20 to November 16; November 10 of CAM02 waits to be sorted, and a
    camera's first day has no morning: so 27 nights, and 26 days. The fork's 16 and 15."""
    bench, fork = (said["visits"]["watch"][name] for name in (BENCH, "Alder Fork"))
    assert (bench["nights_watched"], bench["days_watched"]) == (27, 26)
    assert (bench["nights_unsorted"], fork["nights_set_aside"]) == (1, 1)
    assert (fork["nights_watched"], fork["days_watched"]) == (16, 15)
    states = [day["state"] for day in said["calendar"]["days"]]
    assert states == ["watched"] * 21 + ["unsorted"] + ["watched"] * 6
    counts = {d["day"]: (d["visits"], d["shooting_light"]) for d in said["calendar"]["days"]}
    assert counts["2025-10-21"] == (2, 2)
    assert counts["2025-10-26"] == (2, 0)
    assert counts["2025-10-28"] == (1, 1)


def test_passes_before_single_cameras_are_counted_by_hand(said: dict[str, Any]) -> None:
    """Three minutes part passes: 19 of Split Brow, 8 of Mud Hen, 2 of No Age, 2 of Old Gone before
    he ended; the two that nobody named and the one nobody is sure of make 3 of 34."""
    share = said["rivals"]["unidentified"]
    assert share["n"] == 34
    assert share["value"] == pytest.approx(3 / 34)
    (pair,) = said["rivals"]["pairs"]
    # Nights apart at random: 9 of 27 and 7 of 27 meet on 9 x 7 / 27.
    assert pair["by_chance"]["value"] == pytest.approx(9 * 7 / 27)
    assert [one["nights"] for one in said["rivals"]["known"]] == [9, 7]


def test_beds_are_those_of_the_courses_written_down(said: dict[str, Any]) -> None:
    """Split Brow beds at the bench on 4 + k mod 5 days: 4 to 8, on average 6, of 26 covered."""
    buck = _row(said["bedding"], "bucks", buck="Split Brow")
    bedded = buck["days_bedded"]
    assert (bedded["value"], bedded["low"], bedded["high"], bedded["n"]) == (6, 4, 8, 26)
    assert buck["share"]["value"] == pytest.approx(6 / 26)
    assert (buck["mornings"], buck["evenings"], buck["both"], buck["directed_days"]) == (4, 5, 4, 4)
    assert (buck["inside_days"], buck["contradicting_days"]) == (1, 1)
    assert buck["verdict"] == said["bedding"]["verdict"] == "confirmed"
    # Three days ahead he keeps his state with 0.8^3; else he goes by his likings, 0.4 to 0.1; all
    # courses have him elsewhere on the last day.
    left = 1 - 0.8**3
    chances = {p["area"]: p["chance"]["value"] for p in said["where ahead"]["places"]}
    assert chances == pytest.approx({
        "none of your areas": 0.8**3 + 0.1 * left, "Far Knob": 0.4 * left,
        "Alder Fork": 0.3 * left, BENCH: 0.2 * left,
    })  # fmt: skip
    # Ways: 8 passes of his, No Age's 2 and a nameless 2 on CAM01's 11 days before it was moved, and
    # 1 on 20 days more.
    (way,) = said["bedding"]["ways"]["morning"]
    assert way["per_10_days"] == pytest.approx(10 * (12 + 1) / (11 + 20))


def test_sign_is_counted_by_kind_and_season(said: dict[str, Any]) -> None:
    """12 rubs lead out to 4 sides, one in; of 4 beds a doe's and winter's stand apart; two seasons.
    Within 280 m of the center lie 24.63 ha, and the path's pieces of 200 and 300 m: 0.5 km."""
    sign = said["bedding"]["sign"]
    names = ("rubs", "beds", "buck_beds", "doe_beds", "winter_beds", "scrapes", "seasons",
             "sectors_out", "sectors_in")  # fmt: skip
    assert tuple(sign[name] for name in names) == (13, 2, 1, 1, 1, 0, 2, 4, 1)
    assert sign["hectares"] == pytest.approx(math.pi * 280**2 / 1e4)
    ring = math.pi * (1080**2 - 280**2) / 1e4
    assert sign["density_ratio"]["value"] == pytest.approx(13 / sign["hectares"] * ring)
    assert sign["km_walked"] == pytest.approx(0.5)


def test_what_is_fresh_or_near_is_what_the_scenes_say(said: dict[str, Any]) -> None:
    fork, bench = said["lately"]["rows"]
    assert (fork["area"], fork["fresh_sign"], fork["visits"], fork["day"], fork["gray"]) == (
        "Alder Fork", 2, 11, 6, 5)  # fmt: skip
    assert (bench["visits"], bench["latest"]) == (2, "2025-11-07")
    joined = {(r["buck"], r["sign"]) for r in said["near fork"]["rows"]}
    # While the rub or the scrape at the fork was made, with two cameras in reach of both.
    assert {buck for buck, _ in joined} == {"Mud Hen", "Button", None}
    # By camera: 8 dawns and dusks and one night at CAM01, three at CAM02 over 30 minutes apart.
    maker = said["maker"]["makers"][0]
    assert (maker["buck"], maker["visits"]) == ("Split Brow", 12)
    # CAM01 alone hung within 200 m of the rub: from October 20 until it failed on the 28th.
    assert said["maker"]["watch"]["nights_watched"] == 8
