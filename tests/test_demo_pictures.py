"""The invented season's pictures: metadata, looks by day and night, who stands where."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import datetime, timedelta

import cv2
import numpy as np
import pytest
from PIL import Image

from camsign.demo.paint import HEIGHT, WIDTH
from camsign.demo.scene import BAND, picture, render
from camsign.demo.season import Season, make_season
from camsign.demo.specs import FrameSpec, Pictured
from camsign.demo.weather import dress_mix

# Calm summer weather: one dress of the woods, so one backdrop is painted.
_DAY = datetime(2025, 8, 20, 13, 5, 17)


@pytest.fixture(scope="module")
def season() -> Season:
    return make_season()


def _frame(season: Season, light: str = "day", **changes: object) -> FrameSpec:
    base = next(one for one in season.frames if one.deployment == "CAM01-1")
    calm = replace(base.weather, wind=0.0, overcast=1.0, snow=0.0, fog=0.0, snowing=False)
    height = 45.0 if light == "day" else -30.0
    return replace(
        base,
        shown=_DAY,
        utc=base.utc,
        light=light,
        sun_deg=height,
        weather=calm,
        subjects=(),
        **changes,
    )


def _deer(
    x: float = 0.5,
    distance: float = 6.5,
    what: str = "doe",
    buck: str | None = None,
    **more: object,
) -> Pictured:
    return replace(Pictured(what, buck, x, distance, True, "walk", 1, 90.0), **more)


def _changed(season: Season, frame: FrameSpec, *subjects: Pictured) -> np.ndarray:
    """Where the picture changes when the subjects walk in, h x w."""
    without, with_ = picture(season, frame), picture(season, replace(frame, subjects=subjects))
    return np.abs(without.astype(int) - with_.astype(int)).max(axis=2) > 24


def test_exif_says_what_the_camera_showed(season: Season) -> None:
    # Independent reader: Pillow.
    for frame in (_frame(season, subsec=7), _frame(season, "infrared", subsec=560)):
        image = Image.open(io.BytesIO(render(season, frame)))
        image.load()
        exif = image.getexif()
        inner = exif.get_ifd(0x8769)
        assert image.size == (WIDTH, HEIGHT)
        assert exif[0x010F] == "Fernholt"
        assert exif[0x0110] == "FT-20"
        assert exif[0x0112] == 1
        assert inner[0x9003] == f"{frame.shown:%Y:%m:%d %H:%M:%S}"
        assert inner[0x9291] == f"{frame.subsec:03d}"
        assert inner[0xA431] == "FT20-004417"
        assert not exif.get_ifd(0x8825)  # no GPS
        assert not set(inner) & {0x9010, 0x9011, 0x9012}  # no offset from UTC


def test_the_cheaper_model_writes_no_serial_number(season: Season) -> None:
    frame = replace(_frame(season), camera="CAM06", deployment="CAM06-1")
    image = Image.open(io.BytesIO(render(season, frame)))
    assert image.getexif()[0x0110] == "FT-11"
    assert 0xA431 not in image.getexif().get_ifd(0x8769)


def test_the_same_frame_is_drawn_the_same_and_the_next_of_a_burst_is_not(season: Season) -> None:
    frame = _frame(season)
    assert render(season, frame) == render(season, frame)
    assert render(season, replace(frame, index=frame.index + 1)) != render(season, frame)


def test_a_file_is_small(season: Season) -> None:
    for light in ("day", "infrared"):
        assert 50_000 < len(render(season, _frame(season, light))) < 170_000


def test_day_is_colored_and_infrared_is_gray_and_bright_in_the_middle(season: Season) -> None:
    day = picture(season, _frame(season))[: HEIGHT - BAND]
    night = picture(season, _frame(season, "infrared"))[: HEIGHT - BAND]
    assert np.ptp(day.astype(int), axis=2).mean() > 15
    assert np.ptp(night.astype(int), axis=2).max() == 0
    # A near branch may glare on one side, so the darker side counts.
    sides = [night[300:500, columns].mean() for columns in (slice(0, 100), slice(-100, None))]
    assert night[300:500, 400:624].mean() > 1.25 * min(sides)
    assert np.median(night[:200, 350:674]) < 0.6 * np.median(night[300:500, 350:674])


def test_dusk_is_darker_than_noon(season: Season) -> None:
    frame = _frame(season)
    noon, dusk = picture(season, frame), picture(season, replace(frame, sun_deg=-2.0))
    assert dusk[: HEIGHT - BAND].mean() < 0.8 * noon[: HEIGHT - BAND].mean()


@pytest.mark.parametrize("light", ["day", "infrared"])
def test_a_deer_is_where_the_truth_says_and_smaller_farther_away(
    season: Season, light: str
) -> None:
    frame = _frame(season, light)
    near, far = (_changed(season, frame, _deer(0.45, d)) for d in (5.0, 10.0))
    columns = np.nonzero(near.any(axis=0))[0]
    assert abs(columns.mean() / WIDTH - 0.45) < 0.08
    assert near.sum() > 2.5 * far.sum() > 2000


def test_it_turns_with_its_travel(season: Season) -> None:
    # The head, high and in front, is on the side it goes to.
    for to_right in (True, False):
        where = _changed(season, _frame(season), _deer(distance=5.5, to_right=to_right))
        rows, columns = np.nonzero(where)
        top = columns[rows < np.quantile(rows, 0.08)]
        assert (top.mean() > columns.mean()) == to_right


def test_antlers_rise_over_the_head_and_differ_between_bucks(season: Season) -> None:
    heights = {}
    for name in (None, *(buck.name for buck in season.bucks)):
        subject = _deer(0.5, 6.0, "buck" if name else "doe", name)
        rows = np.nonzero(_changed(season, _frame(season), subject))[0]
        heights[name] = rows.max() - rows.min()
    assert heights["Old Quarrel"] > heights["Twig"] > heights[None]
    shapes = [
        _changed(season, _frame(season), _deer(0.5, 6.0, "buck", buck.name))
        for buck in season.bucks
    ]
    for i, one in enumerate(shapes):
        for other in shapes[i + 1 :]:
            assert (one ^ other).sum() > 0.02 * one.sum()


def test_a_nearer_tree_hides_part_of_a_deer(season: Season) -> None:
    # Over the whole width some deer stand behind a trunk: fewer pixels change there.
    frame = _frame(season)
    areas = [_changed(season, frame, _deer(x, 12.0)).sum() for x in np.linspace(0.12, 0.88, 20)]
    assert min(areas) < 0.8 * np.median(areas)


def test_eyes_shine_in_the_flash_only(season: Season) -> None:
    lit = []
    for index in range(8):
        frame = _frame(season, "infrared", index=index)
        with_ = picture(season, replace(frame, subjects=(_deer(pose="alert", distance=7.0),)))
        lit.append(with_[60:380, 300:760].max())
    assert np.median(lit) >= 250


def test_wind_moves_branches_between_the_frames_of_a_burst(season: Season) -> None:
    frame = _frame(season)
    gale = replace(frame, weather=replace(frame.weather, wind=0.9))

    def motion(one: FrameSpec) -> float:
        pictures = [picture(season, replace(one, index=i)).astype(int) for i in (100, 101)]
        return float((np.abs(pictures[0] - pictures[1])[: HEIGHT - BAND].max(axis=2) > 30).mean())

    assert motion(gale) > 5 * motion(frame)
    assert motion(gale) > 0.01


def test_a_knocked_camera_looks_elsewhere(season: Season) -> None:
    frame = _frame(season)
    before, after = (
        cv2.cvtColor(picture(season, replace(frame, shifted=knocked)), cv2.COLOR_BGR2GRAY)
        for knocked in (False, True)
    )
    window = cv2.createHanningWindow((WIDTH, HEIGHT - BAND), cv2.CV_32F)
    cut = [one[: HEIGHT - BAND].astype(np.float32) for one in (before, after)]
    (right, down), _ = cv2.phaseCorrelate(cut[0], cut[1], window)
    assert 20 < np.hypot(right, down) < 60


def test_the_strip_shows_camera_date_and_time(season: Season) -> None:
    frame = _frame(season)
    band = picture(season, frame)[HEIGHT - BAND :]
    assert np.median(band) < 40
    assert band.max() > 180
    later = picture(season, replace(frame, shown=frame.shown + timedelta(seconds=31)))
    moved = np.nonzero((band != later[HEIGHT - BAND :]).any(axis=(0, 2)))[0]
    assert 500 < moved.min() <= moved.max() < 640  # only the seconds changed


def test_the_woods_change_their_dress_with_the_year() -> None:
    months = {
        m: dress_mix(datetime(2025, m, d).date(), 0.0) for m, d in ((8, 20), (10, 6), (11, 8))
    }
    assert months == {8: {"green": 1.0}, 10: {"gold": 1.0}, 11: {"bare": 1.0}}
    between = dress_mix(datetime(2025, 10, 18).date(), 0.5)
    assert between["snow"] == 0.5
    assert sum(between.values()) == pytest.approx(1)
