"""The picture of an audit: what its points say, and that it is drawn."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from clock_season import KINDS, case
from PIL import Image

from camsign.clock.plot_points import clock_points, put_right
from camsign.errors import InputRefused
from camsign.report.clockplot import draw_clocks


@pytest.mark.parametrize("kind", KINDS)
def test_after_is_the_height_at_the_right_time(kind: str) -> None:
    # The truth is known: after the proposal, dots stand where the sun truly stood.
    one = case(np.random.default_rng(41), kind, frames=1200)
    for points in clock_points(one.read):
        finding, shots = points.finding, one.read.shots
        mine = (shots.shown_s >= shown(finding.clock_from)) & (
            shots.shown_s < shown(finding.clock_until) + 1
        )
        right = put_right(finding, shots.read_s[mine], shots.shown_s[mine])
        off = (right - one.true_s[mine] + 43200) % 86400 - 43200
        assert np.abs(off).max() < 20 * 60
        assert len(points.light) == mine.sum()
        lit, dark = (points.height_after[points.light == k] for k in (1, 0))
        assert np.median(lit) > 0 > np.median(dark)


def shown(naive) -> float:
    return float(np.datetime64(naive, "s").astype("int64"))


def test_a_wrong_clock_mixes_what_the_right_one_parts() -> None:
    (points,) = clock_points(case(np.random.default_rng(42), "twelve hours", frames=900).read)
    parted = [
        ((height > 0) == (points.light == 1)).mean()
        for height in (points.height_before, points.height_after)
    ]
    # One burst in ten has the wrong light, and the switch is not at the horizon itself.
    assert parted[0] < 0.7 < 0.8 < parted[1]
    assert np.allclose((points.hours_before - points.hours_after) % 24, 12, atol=0.01)


def test_what_needs_attention_comes_first() -> None:
    wrong = clock_points(case(np.random.default_rng(43), "reset", frames=900).read)
    assert [p.finding.verdict for p in wrong] == ["reset", "right"]
    assert len(clock_points(case(np.random.default_rng(43), "reset", frames=900).read, 1)) == 1


@pytest.mark.thorough
def test_it_is_drawn(tmp_path: Path) -> None:
    points = [
        p
        for kind in ("right", "an hour")
        for p in clock_points(case(np.random.default_rng(44), kind, frames=300).read)
    ]
    path = draw_clocks(points, tmp_path / "clock.png")
    with Image.open(path) as picture:
        assert picture.format == "PNG"
        pixels = np.asarray(picture.convert("RGB"))
    # Both kinds of dot are there, apart by color: more red than blue, more blue than red.
    red, blue = pixels[..., 0].astype(int), pixels[..., 2].astype(int)
    assert (red - blue > 90).sum() > 500
    assert (blue - red > 60).sum() > 500


def test_nothing_to_draw_is_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="no clock to draw"):
        draw_clocks([], tmp_path / "clock.png")
