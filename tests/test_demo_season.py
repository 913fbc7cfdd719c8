"""The invented season: same seed, same season; counts; clocks; light by the sun; honest truth."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
import typer
from geographiclib.geodesic import Geodesic
from pvlib.solarposition import get_solarposition

from camsign.cli.app import app
from camsign.cli.demonstration import _asked
from camsign.demo.land import EDGE, KNOB, MIDDLE, SHELF, SWALE, TZ, place
from camsign.demo.season import Season, make_season
from camsign.demo.walk import AREA, ASKS, BUCK, CHART, DemoMade
from camsign.report.drawn import _CHARTS


@pytest.fixture(scope="module")
def season() -> Season:
    return make_season()


def test_the_same_seed_gives_the_same_season_and_another_another(season: Season) -> None:
    assert make_season() == season
    assert make_season(8).frames != season.frames


@pytest.mark.parametrize("seed", [7, 1, 2])
def test_it_has_the_promised_size(seed: int) -> None:
    season = make_season(seed)
    assert len({one.camera for one in season.cards}) == 6
    assert len(season.deployments) == 7
    assert 12 <= len(season.cards) <= 14
    assert len(season.bucks) == 5
    assert sum(buck.age >= 3.5 for buck in season.bucks) == 3
    assert len(season.areas) == 4
    assert len(season.signs) == 80
    assert 1440 <= len(season.frames) <= 1560
    assert all(len(season.of_card(card.key)) > 0 for card in season.cards)


def test_bursts_of_three_and_most_frames_without_a_buck(season: Season) -> None:
    shots = Counter(frame.trigger for frame in season.frames)
    assert set(shots.values()) == {3}
    bucks = sum(any(one.what == "buck" for one in frame.subjects) for frame in season.frames)
    empty = sum(not frame.subjects for frame in season.frames)
    assert 0.3 < bucks / len(season.frames) < 0.45
    assert empty / len(season.frames) > 0.25
    seen = {one.what for frame in season.frames for one in frame.subjects}
    assert seen == {"buck", "doe", "fawn", "coyote", "squirrel", "person"}


def test_the_demo_asks_in_words_that_the_commands_take(season: Season) -> None:
    commands: Any = typer.main.get_command(app)
    names = {one.name for one in (*season.bucks, *season.areas)}
    for command, *words in ASKS:
        # It refuses what it does not know.
        found = commands.get_command(None, command).make_context(command, list(words))
        said = [x for v in found.params.values() for x in (v if isinstance(v, list) else [v])]
        assert names & set(map(str, said)) or command in ("compare", "tonight")


def test_the_chart_is_one_that_the_chart_command_draws_and_it_is_told(
    season: Season, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert AREA in {one.name for one in season.areas}
    assert CHART in _CHARTS
    assert BUCK in {one.name for one in season.bucks}
    monkeypatch.setattr("camsign.cli.demonstration.ASKS", ())
    made = DemoMade(tmp_path / "logbook", tmp_path / "map.png", tmp_path / "days.png")
    told = list(_asked(made))
    assert [line for line in told if str(line).endswith(".png")] == [
        f"The map: {made.map}", f"One buck's days: {made.chart}",
    ]  # fmt: skip


def test_file_names_repeat_across_cards_and_roll_to_the_next_folder(season: Season) -> None:
    names = Counter(frame.file for frame in season.frames)
    assert names["DCIM/100MEDIA/IMG_0001.JPG"] == len(season.cards)
    for card in season.cards:
        files = [frame.file for frame in season.of_card(card.key)]
        assert len(files) == len(set(files))
        assert files == sorted(files)
        assert ("DCIM/101MEDIA/IMG_0001.JPG" in files) == (len(files) > 100)
    assert names["DCIM/101MEDIA/IMG_0001.JPG"] >= 2


def test_a_clock_keeps_the_summer_time_on_which_it_was_hung(season: Season) -> None:
    # America/New_York left summer time on 2025-11-02 at 06:00 UTC (zoneinfo).
    switch = datetime(2025, 11, 2, 6, tzinfo=UTC)
    assert switch.astimezone(ZoneInfo(TZ)).utcoffset() == timedelta(hours=-5)
    for frame in season.frames:
        naive = frame.utc.replace(tzinfo=None) - timedelta(hours=4)
        assert frame.shown == naive.replace(microsecond=0)
        assert abs(naive - frame.shown - timedelta(milliseconds=frame.subsec)).microseconds < 1000
    assert any(frame.utc > switch for frame in season.frames)


def test_a_wrong_clock_changes_what_is_shown_and_nothing_else(season: Season) -> None:
    wrong = make_season(clock_errors={"CAM03": -37 * 60})
    for right, other in zip(season.frames, wrong.frames, strict=True):
        late = timedelta(minutes=-37 if right.camera == "CAM03" else 0)
        assert replace(other, shown=right.shown) == right
        assert other.shown - right.shown == late


def test_light_follows_the_sun(season: Season) -> None:
    # Independent: pvlib's implementation of NREL's solar position algorithm.
    times = pd.DatetimeIndex([frame.utc for frame in season.frames])
    lat, lon = season.home
    height = get_solarposition(times, lat, lon)["elevation"].to_numpy()
    infrared = np.array([frame.light == "infrared" for frame in season.frames])
    assert infrared[height < -9].all()
    assert not infrared[height > 3].any()
    assert 0.2 < infrared.mean() < 0.6
    told = np.array([frame.sun_deg for frame in season.frames])
    assert np.abs(told - height).max() < 0.05
    twilight = (height > -7) & (height < 1)
    assert 0.1 < infrared[twilight].mean() < 0.9
    by_trigger = defaultdict(set)
    for frame in season.frames:
        by_trigger[frame.trigger].add(frame.light)
    assert all(len(lights) == 1 for lights in by_trigger.values())


def test_cameras_are_silent_when_they_have_no_power(season: Season) -> None:
    for frame in season.frames:
        assert season.deployment(frame.deployment).alive(frame.utc - timedelta(seconds=4))
    dead = season.deployment("CAM04-1").dead
    assert dead[1] - dead[0] > timedelta(weeks=3)
    ran_out = season.deployment("CAM05-1")
    assert ran_out.ran_out is not None
    last = max(frame.utc for frame in season.frames if frame.deployment == "CAM05-1")
    assert last < ran_out.ran_out < ran_out.until - timedelta(weeks=2)
    first, second = season.deployment("CAM06-1"), season.deployment("CAM06-2")
    assert first.until < second.hung
    assert first.at != second.at


def test_frames_lie_on_the_card_that_was_in_the_camera(season: Season) -> None:
    pulled = {card.key: card for card in season.cards}
    for frame in season.frames:
        card = pulled[frame.card]
        assert (card.camera, card.deployment) == (frame.camera, frame.deployment)
        assert frame.utc < card.pulled
    assert {card.named_by for card in season.cards} == {"label", "serial", "person"}
    for card in season.cards:
        camera = season.deployment(card.deployment).camera
        assert (card.camera in card.folder) == (card.named_by == "label")
        assert card.named_by != "serial" or camera.serial


def test_what_is_pictured_happened(season: Season) -> None:
    by_place = defaultdict(list)
    for frame in season.frames:
        for one in frame.subjects:
            if one.what == "buck":
                by_place[one.buck].append(frame.utc)
    for one in season.truth.photographed:
        assert one in season.truth.passes
        near = [abs(when - one.utc) for when in by_place[one.buck]]
        assert min(near) < timedelta(seconds=3), one
    for one in season.truth.passes:
        day = one.utc.astimezone(ZoneInfo(TZ)).date()
        if one.why in ("in", "out") and one.spot in (KNOB, SHELF):
            assert day in season.truth.bedded[one.buck, one.spot]
        if one.spot in (EDGE, SWALE):
            rise, down = season.truth.sunrise[day], season.truth.sunset[day]
            assert not rise - timedelta(minutes=30) < one.utc < down + timedelta(minutes=30)


def test_two_areas_are_beds_and_two_are_not(season: Season) -> None:
    really = {area.name: (area.kind, area.really) for area in season.areas}
    assert really[KNOB] == really[SHELF] == ("bedding", "bedding")
    assert really[SWALE] == ("bedding", "travel")
    assert really[EDGE] == ("feeding", "feeding")
    for buck in season.bucks:
        days = [set(season.truth.bedded[buck.name, area]) for area in (KNOB, SHELF)]
        assert not days[0] & days[1]
    assert len(season.truth.bedded["Old Quarrel", KNOB]) >= 20
    assert season.buck("Old Quarrel").age >= 3.5


def test_the_main_buck_is_seen_at_both_lit_ends_of_some_days(season: Season) -> None:
    ends: dict[str, set[date]] = {"in": set(), "out": set()}
    for one in season.truth.photographed:
        day = one.utc.astimezone(ZoneInfo(TZ)).date()
        anchor = season.truth.sunrise if one.why == "in" else season.truth.sunset
        lit = abs(one.utc - anchor[day]) < timedelta(hours=2)
        if (one.buck, one.spot) == ("Old Quarrel", KNOB) and one.why in ends and lit:
            ends[one.why].add(day)
    assert len(ends["in"] & ends["out"]) >= 3


def test_animals_go_the_way_the_truth_says(season: Season) -> None:
    bursts = defaultdict(list)
    for frame in season.frames:
        for one in frame.subjects:
            if one.travel_deg is not None:
                bursts[frame.trigger, frame.deployment, one.what, one.number].append(one)
    walked = [(key, seen) for key, seen in bursts.items() if len(seen) == 3]
    assert len(walked) > 150
    for (_, deployment, _, _), seen in walked:
        facing = season.deployment(deployment).facing_deg
        right = np.sin(np.radians(seen[0].travel_deg - facing)) > 0
        assert seen[0].to_right == right
        assert (seen[2].x > seen[0].x) == right


def _outward(season: Season, area: str) -> list[tuple[float, float]]:
    """Bearing from the bed's middle and travel of each rub of this season there."""
    lat, lon = place(MIDDLE[area])
    out = []
    for rub in season.signs:
        if rub.kind == "rub" and rub.near == area and rub.travel_deg is not None and rub.maker:
            found = Geodesic.WGS84.Inverse(lat, lon, rub.lat, rub.lon)
            out.append((found["azi1"] % 360, rub.travel_deg))
    return out


@pytest.mark.parametrize("area", [KNOB, SHELF])
def test_rubs_lead_out_of_the_true_beds(season: Season, area: str) -> None:
    pairs = _outward(season, area)
    off = [abs((travel - bearing + 180) % 360 - 180) for bearing, travel in pairs]
    assert len(pairs) >= 10
    assert np.mean(np.array(off) < 50) >= 0.85
    assert max(off) > 120  # one was rubbed on the way in
    assert len({int(bearing // 45) for bearing, _ in pairs}) >= 6


def test_the_edge_is_rubbed_in_two_opposite_directions(season: Season) -> None:
    travel = np.radians(
        [one.travel_deg for one in season.signs if (one.kind, one.near) == ("rub", EDGE)]
    )
    once, twice = abs(np.exp(1j * travel).mean()), abs(np.exp(2j * travel).mean())
    assert once < 0.4
    assert twice > 0.8


def test_sign_was_made_before_it_was_seen(season: Season) -> None:
    assert all(one.made_on <= one.seen_on for one in season.signs)
    late = [one for one in season.signs if one.seen_on >= date(2026, 3, 1) and one.kind == "rub"]
    assert sum(one.made_on < date(2025, 12, 1) for one in late) >= 15
    made = {one.maker for one in season.signs} - {None}
    assert made <= {buck.name for buck in season.bucks}
    for one in season.signs:
        if one.maker and one.near in (KNOB, SHELF) and one.kind == "rub":
            assert one.made_on in season.truth.bedded[one.maker, one.near]
        if one.top_m is not None and one.bottom_m is not None:
            assert 0 < one.bottom_m < one.top_m < 1.6
    beds = [one for one in season.signs if one.kind == "bed"]
    assert {one.near for one in beds} == {KNOB, SHELF}
    assert {one.surface for one in season.signs} > {"wet", "bright", "dry", "grey", "healing"}


def test_an_evening_on_stand_is_in_the_journal(tmp_path: Path) -> None:
    from camsign.api import start_logbook
    from camsign.demo.walk import draw_stands, note_sits
    from camsign.sits.seen import sits_of

    book = start_logbook(tmp_path / "b", home="44.9,-70.9", units="imperial")
    assert draw_stands(book)["stand"] == 3
    assert note_sits(book) == 1
    with book.session() as session:
        (one,) = sits_of(session).sits
    assert one.stand == "East Oak" and len(one.seen) == 3
