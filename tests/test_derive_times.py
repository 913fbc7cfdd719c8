"""Frames to deployments and right time, from cards on disk to frame_times."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd
import pvlib
import pytest
from derive_world import TZ, Shot, book, frame_id, hang, put_card, rows, say

from camsign.derive.opening import open_logbook
from camsign.errors import Damaged
from camsign.logbook.edits import SetFields, TakeBack
from camsign.logbook.folder import Folder

NEW_YORK = ZoneInfo(TZ)


@pytest.fixture
def home(tmp_path: Path) -> Folder:
    return book(tmp_path / "book")


def times(home: Folder, frames: list[str], column: str = "utc") -> list[object]:
    found = dict(rows(home, f"SELECT frame, {column} FROM frame_times"))
    return [found[f] for f in frames]


@pytest.mark.thorough
def test_a_year_with_both_switches(home: Folder) -> None:
    # Wall-clock truth by zoneinfo; 15 U.S.C. 260a: 2025-11-02 and 2026-03-08, at 2 o'clock.
    walls = [
        datetime(2025, 11, 2, 0, 30),
        datetime(2025, 11, 2, 1, 30),
        datetime(2025, 11, 2, 1, 10, fold=1),
        datetime(2025, 11, 2, 1, 50, fold=1),
        datetime(2025, 11, 2, 2, 30),
        datetime(2026, 3, 8, 1, 59),
        datetime(2026, 3, 8, 3, 1),
        datetime(2026, 7, 1, 12, 0),
    ]
    true = [w.replace(tzinfo=NEW_YORK).astimezone(UTC) for w in walls]
    ahead = timedelta(hours=-4)
    cards = {
        "local": [w.replace(fold=0) for w in walls],
        "hung": [t.replace(tzinfo=None) + ahead for t in true],
        "+01:00": [t.replace(tzinfo=None) + timedelta(hours=1) for t in true],
    }
    for i, (rule, shown) in enumerate(cards.items()):
        shots = [Shot(s.isoformat()) for s in shown]
        frames = put_card(home, f"k{i}", f"CAM{i}", shots, "2026-09-01T00:00:00Z")
        say(home, hang(f"CAM{i}", "2025-09-01T00:00:00Z", clock=rule))
        assert times(home, frames) == [t.replace(tzinfo=None) for t in true], rule
        local = [t.astimezone(NEW_YORK).replace(tzinfo=None) for t in true]
        assert times(home, frames, "local") == local, rule
    twice = "in the hour that fall-back repeats"
    ids = [frame_id("k0", f"DCIM/100CAMS/IMG_{i:04d}.JPG")[:16] for i in range(1, 9)]
    said = times(home, ids, "doubt")
    assert said == [None, twice, twice, twice, None, None, None, None]


def test_the_hour_that_is_left_out_is_read_and_doubted(home: Folder) -> None:
    frames = put_card(home, "k", "CAM1", [Shot("2026-03-08T02:30:00")])
    say(home, hang("CAM1", "2026-03-01T00:00:00Z", clock="local"))
    assert times(home, frames) == [datetime(2026, 3, 8, 7, 30)]
    assert times(home, frames, "doubt") == ["in the hour that spring-forward skips"]


def test_each_deployment_has_its_own_rule_zone_and_place(home: Folder) -> None:
    shots = [Shot("2025-09-10T08:00:00"), Shot("2025-10-10T08:00:00")]
    frames = put_card(home, "k", "CAM1", shots)
    say(
        home,
        hang("CAM1", "2025-09-01T00:00:00Z", "2025-09-20T00:00:00Z", "d-1"),
        hang(
            "CAM1", "2025-10-01T00:00:00Z", None, "d-2", (46.5, -87.4), tz="America/Menominee",
            clock="local",
        ),
    )  # fmt: skip
    assert times(home, frames, "deployment") == ["d-1", "d-2"]
    assert times(home, frames) == [datetime(2025, 9, 10, 12), datetime(2025, 10, 10, 13)]
    assert times(home, frames, "local") == [datetime(2025, 9, 10, 8), datetime(2025, 10, 10, 8)]


@pytest.mark.thorough
def test_frames_of_no_deployment_stay_usable(home: Folder) -> None:
    shots = [Shot("2025-09-10T08:00:00"), Shot("2025-12-10T08:00:00"), Shot("2025-11-02T01:30:00")]
    other = put_card(home, "k2", "CAM2", shots[:1])
    frames = put_card(home, "k", "CAM1", shots)
    say(home, hang("CAM1", "2025-09-20T00:00:00Z", "2025-10-20T00:00:00Z"))
    assert times(home, frames, "deployment") == [None, None, None]
    # By the clock of the logbook's zone, the first pass of the hour that comes twice.
    assert times(home, frames) == [
        datetime(2025, 9, 10, 12),
        datetime(2025, 12, 10, 13),
        datetime(2025, 11, 2, 5, 30),
    ]
    assert times(home, frames, "basis") == ["no deployment"] * 3
    older = "older than the day CAM1 was hung"
    newer = "newer than the day CAM1 was taken down"
    assert times(home, frames, "doubt") == [older, newer, newer]
    say(home, hang("CAM1", "2025-12-01T00:00:00Z", "2025-12-05T00:00:00Z", "d-2"))
    between = "from a day when CAM1 hung nowhere"
    assert times(home, frames, "doubt") == [older, newer, between]
    assert times(home, other, "doubt") == ["no spot for CAM2"]
    assert times(home, frames, "in_daylight") == [True, True, False]


def test_without_a_home_there_is_no_sun_for_them(tmp_path: Path) -> None:
    homeless = book(tmp_path / "b", home=None)
    frames = put_card(homeless, "k", "CAM1", [Shot("2025-09-10T08:00:00")])
    assert times(homeless, frames, "utc") == [datetime(2025, 9, 10, 12)]
    assert times(homeless, frames, "(sunrise, in_daylight)") == [(None, None)]


@pytest.mark.thorough
def test_clocks_that_cannot_be_right_are_doubted(home: Folder) -> None:
    shots = [
        Shot(None),
        Shot("1970-01-01T00:00:07"),
        Shot("2099-01-01T00:00:00"),
        Shot("0001-01-01T00:00:00"),
        Shot("2026-01-01T08:00:00"),
    ]
    frames = put_card(home, "k", "CAM1", shots, taken_in="2026-02-01T00:00:00Z")
    say(home, hang("CAM1", "2025-12-01T00:00:00Z", None))
    outside = "; older than the day CAM1 was hung"
    assert times(home, frames, "doubt") == [
        "the picture states no time",
        "the clock showed the year 1970: it was probably never set" + outside,
        "the clock showed 2099-01-01, after the card was taken in",
        "the clock showed 0001-01-01T00:00:00",
        None,
    ]
    assert times(home, frames, "utc IS NULL") == [True, False, False, True, False]


@pytest.mark.thorough
def test_an_offset_in_the_picture_beats_the_default_but_nothing_that_was_said(
    home: Folder,
) -> None:
    # In December the place is at -05:00, the default rule of a camera hung in summer says -04:00.
    shots = [
        Shot("2025-12-10T08:00:00", offset_minutes=-300),
        Shot("2025-12-10T08:01:00", offset_minutes=480),
        Shot("2025-12-10T08:02:00"),
    ]
    frames = put_card(home, "k", "CAM1", shots)
    say(home, hang("CAM1", "2025-09-01T00:00:00Z"))
    assert times(home, frames) == [
        datetime(2025, 12, 10, 13),
        datetime(2025, 12, 10, 12, 1),
        datetime(2025, 12, 10, 12, 2),
    ]
    assert times(home, frames, "basis") == ["offset in the picture", "hung", "hung"]
    unbelieved = "the picture states an offset from UTC that the place does not have"
    remedy = (
        "; if its clock is right: camsign clock set CAM1 --utc-offset=-04:00 --deployment d-CAM1"
    )
    assert times(home, frames, "doubt") == [None, unbelieved + remedy, None]
    say(home, hang("CAM1", "2025-09-01T00:00:00Z", clock="-06:00"))
    assert times(home, frames[:1]) == [datetime(2025, 12, 10, 14)]
    assert times(home, frames, "doubt") == [None, None, None]
    say(home, hang("CAM1", "2025-09-01T00:00:00Z", clock="hung"))
    fix = {"camera": "CAM1", "kind": "shift", "value": 60}
    say(home, SetFields("clock_fix", "c-1", fix))
    assert times(home, frames) == [
        datetime(2025, 12, 10, 13, 1),
        datetime(2025, 12, 10, 12, 2),
        datetime(2025, 12, 10, 12, 3),
    ]


@pytest.mark.thorough
def test_a_correction_brings_frames_into_their_deployment(home: Folder) -> None:
    frames = put_card(home, "k", "CAM1", [Shot("2019-01-01T00:10:00"), Shot("2019-01-02T00:00:00")])
    say(home, hang("CAM1", "2025-09-01T00:00:00Z", "2025-10-01T00:00:00Z"))
    assert times(home, frames, "deployment") == [None, None]
    fix = {
        "deployment": "d-CAM1",
        "camera": "CAM1",
        "kind": "pairs",
        "value": [["2019-01-01T00:00:00", "2025-09-05T16:00:00Z"]],
        "shown_until": "2019-01-02T00:00:00",
        "estimated": True,
    }
    act = say(home, SetFields("clock_fix", "c-1", fix))
    assert times(home, frames, "deployment") == ["d-CAM1", None]
    assert times(home, frames)[0] == datetime(2025, 9, 5, 16, 10)
    assert times(home, frames[:1], "(basis, doubt)") == [("correction c-1", "estimated")]
    say(home, TakeBack([act]))
    assert times(home, frames, "deployment") == [None, None]


@pytest.mark.thorough
def test_frames_in_two_deployments_go_to_the_later_and_are_doubted(home: Folder) -> None:
    # Two writers can say what one may not. At one place they would count once.
    frames = put_card(home, "k", "CAM1", [Shot("2025-09-10T08:00:00")])
    say(
        home,
        hang("CAM1", "2025-09-01T00:00:00Z", None, "d-1"),
        hang("CAM1", "2025-09-05T00:00:00Z", None, "d-2", at=(44.11, -71.2)),
    )
    assert times(home, frames, "(deployment, doubt)") == [("d-2", "fits two hangs of the camera")]


def test_bursts_join_neighbors_of_a_camera(home: Folder) -> None:
    stamps = ["07:00:00", "07:00:10", "07:00:20", "07:00:31", "07:00:31"]
    shots = [Shot(f"2025-10-01T{s}") for s in stamps]
    frames = put_card(home, "k", "CAM1", shots)
    other = put_card(home, "k2", "CAM2", [Shot("2025-10-01T07:00:05"), Shot(None), Shot(None)])
    a, d = frames[0], frames[3]
    assert times(home, frames, "burst") == [a, a, a, d, d]
    assert times(home, other, "burst") == other


@pytest.mark.thorough
def test_a_card_put_right_takes_its_frames_along(home: Folder) -> None:
    first = put_card(home, "k1", "CAM1", [Shot("2025-10-01T07:00:00")])
    second = put_card(home, "k2", "CAM1", [Shot("2025-10-01T07:00:05")])
    say(home, hang("CAM1", "2025-09-01T00:00:00Z"), hang("CAM2", "2025-09-01T00:00:00Z"))
    assert times(home, first + second, "burst") == [first[0], first[0]]
    say(home, SetFields("card", "k1", {"camera": "CAM2"}))
    assert times(home, first + second, "camera") == ["CAM2", "CAM1"]
    assert times(home, first + second, "deployment") == ["d-CAM2", "d-CAM1"]
    assert times(home, first + second, "burst") == [first[0], second[0]]


def test_night_begins_at_noon(home: Folder) -> None:
    shots = [Shot("2025-10-01T11:59:59"), Shot("2025-10-01T12:00:00"), Shot("2025-10-02T03:00:00")]
    frames = put_card(home, "k", "CAM1", shots)
    say(home, hang("CAM1", "2025-09-01T00:00:00Z"))
    assert times(home, frames, "night") == [date(2025, 9, 30), date(2025, 10, 1), date(2025, 10, 1)]
    assert times(home, frames, "day") == [date(2025, 10, 1), date(2025, 10, 1), date(2025, 10, 2)]


@pytest.mark.thorough
@pytest.mark.parametrize("place", [(44.123, 1.456), (0.0, 1.0), (-54.0, 2.0), (59.9, 0.5)])
def test_minutes_from_sunrise_and_sunset_agree_with_pvlib(
    home: Folder, place: tuple[float, float]
) -> None:
    # pvlib: NREL's SPA (Reda & Andreas 2008). Its sun is that of the place to the last digit, ours
    # of the place rounded to 0.01 degrees. Near 0° E, for the reason given in test_sun.py.
    days = pd.date_range("2025-09-05 12:00", periods=20, freq="13D", tz="Europe/Paris")
    shots = [Shot(d.strftime("%Y-%m-%dT%H:%M:%S")) for d in days]
    frames = put_card(home, "k", "CAM1", shots, "2027-01-01T00:00:00Z")
    say(home, hang("CAM1", "2025-09-01T00:00:00Z", at=place, clock="local", tz="Europe/Paris"))
    spa = pvlib.solarposition.sun_rise_set_transit_spa(days, *place)
    rise = ((days - spa["sunrise"]).dt.total_seconds() / 60).tolist()
    down = ((days - spa["sunset"]).dt.total_seconds() / 60).tolist()
    assert times(home, frames, "minutes_from_sunrise") == pytest.approx(rise, abs=1.0)
    assert times(home, frames, "minutes_from_sunset") == pytest.approx(down, abs=1.0)
    assert times(home, frames, "in_daylight") == [True] * 20


def test_a_zone_that_does_not_exist_is_one_clear_line(tmp_path: Path) -> None:
    home = book(tmp_path / "b")
    toml = home.root / "logbook.toml"
    toml.write_text(toml.read_text(encoding="utf-8").replace(TZ, "Nowhere/Hill"), encoding="utf-8")
    put_card(home, "k", "CAM1", [Shot("2025-10-01T07:00:00")])
    with pytest.raises(Damaged, match="Nowhere/Hill"), open_logbook(Folder(home.root)):
        pass


def test_a_deployment_in_a_zone_that_does_not_exist_takes_the_logbooks_and_is_told(
    home: Folder,
) -> None:
    frames = put_card(home, "k", "CAM1", [Shot("2025-10-01T07:00:00")])
    say(home, hang("CAM1", "2025-09-01T00:00:00Z", tz="Nowhere/Hill"))
    assert times(home, frames) == [datetime(2025, 10, 1, 11)]
    with open_logbook(home) as session:
        told = session.con.execute("SELECT kind, what, waiting FROM conflicts").fetchall()
    assert [(kind, waiting) for kind, _, waiting in told] == [("unknown zone", 1)]
    assert "(Nowhere/Hill): its times are figured in the logbook's" in told[0][1]
