"""Cards in file order: breaks, order checks, and where a stretch with a lost date belongs."""

from __future__ import annotations

import numpy as np
import pytest
from clock_season import case

from camsign.clock.resets import DAY_S, OffsetBounds, place
from camsign.clock.skies import sky
from camsign.clock.stretches import OrderCheck, Shots, check_order, one_a_burst, stretch_numbers

HOUR = 3600.0


def shots(
    shown: list[float], likely: list[bool] | None = None, folder: list[int] | None = None, **more
) -> Shots:
    n = len(shown)
    zero = np.zeros(n, dtype=np.int64)
    fields = {
        "frame": np.array([str(i) for i in range(n)], dtype=object),
        "camera": zero,
        "card": zero,
        "folder": np.array(folder or [0] * n),
        "number": np.arange(n),
        "shown_s": np.array(shown, dtype=float),
        "read_s": np.array(shown, dtype=float) + 4 * HOUR,
        "deployment": zero,
        "near": np.where(likely or [True] * n, 0, -1),
        "light": zero + 1,
        "brightness": zero + 100.0,
        "burst": np.arange(n),
        "file_s": np.full(n, np.nan),
        "fine": np.zeros(n, dtype=bool),
        "odd": np.zeros(n, dtype=bool),
    }
    return Shots(**(fields | {k: np.array(v) for k, v in more.items()}))


def numbers(shown: list[float], **more) -> list[int]:
    return stretch_numbers(shots([t * HOUR for t in shown], **more)).tolist()


def test_a_clock_that_goes_back_begins_a_stretch() -> None:
    assert numbers([1, 2, 3, 4]) == [0, 0, 0, 0]
    assert numbers([10, 20, 5, 6]) == [0, 0, 1, 1]
    # The hour that comes twice is no break, nor is a long silence.
    assert numbers([10, 9, 900]) == [0, 0, 0]


def test_coming_into_the_time_of_the_deployments_begins_a_stretch() -> None:
    assert numbers([1, 2, 90, 91], likely=[False, False, True, True]) == [0, 0, 1, 1]


def test_clips_beside_pictures_count_their_own_breaks() -> None:
    shown = [10.0, 20, 5, 6, 3, 21, 5.5]
    assert numbers(shown, folder=[0, 0, 0, 0, 1, 1, 1]) == [0, 0, 1, 1, 0, 0, 1]
    # A folder that goes on where the last one ended belongs to the same stretch.
    assert numbers([10, 20, 5, 6, 7], folder=[0, 0, 0, 0, 1]) == [0, 0, 1, 1, 1]


def test_what_shows_no_time_goes_with_the_file_before() -> None:
    assert numbers([10, 20, np.nan, 5, np.nan]) == [0, 0, 0, 1, 1]
    assert numbers([np.nan, np.nan]) == [0, 0]


def test_order_and_stamps() -> None:
    shown = [0.0, 10.0, 10.5, 10.2, 40.0, 30.0, 60.0]
    fine = [False, True, True, True, False, False, False]
    burst = [0, 1, 1, 1, 2, 3, 4]
    stamps = [7200.0, 7210, 7210, 7210, 7240, 7230, 9999.0]
    found = check_order(shots(shown, fine=fine, burst=burst, file_s=stamps))
    assert (found.out_of_order, found.fractions_back, found.stamps_apart) == (1, 1, 1)
    # The two hours that all stamps share are a zone, or a copy, and no fault.
    assert found.stamp_shift_s == pytest.approx(7200, abs=1)
    assert found.lines() == (
        "1 frame shows an earlier time than the file before",
        "parts of a second run back inside 1 burst",
        "1 file carries another time than its picture",
    )
    assert OrderCheck(2, 3, 4, None).lines() == (
        "2 frames show an earlier time than the file before",
        "parts of a second run back inside 3 bursts",
        "4 files carry another time than their picture",
    )
    assert check_order(shots([0.0, 1, 2], file_s=[0.0, 1, 2])).lines() == ()


def test_stamps_of_a_copy_say_nothing() -> None:
    shown = [i * DAY_S for i in range(40)]
    found = check_order(shots(shown, file_s=[1e9 + i for i in range(40)]))
    assert (found.stamps_apart, found.stamp_shift_s) == (0, None)


def test_a_burst_counts_once() -> None:
    some = shots([0.0, 1, 2, 50, 51], burst=[7, 7, 7, 8, 8], light=[1, 0, 0, -1, 1])
    first, colour = one_a_burst(some)
    assert first.tolist() == [0, 4]
    assert colour == pytest.approx([1 / 3, 1])


@pytest.fixture(scope="module")
def lost():
    """Half a card whose clock shows 2017, with what must be added to it to be right."""
    one = case(np.random.default_rng(5), "reset", frames=1500)
    some, deployment = one.read.shots, one.read.deployments[0]
    which = some.near < 0
    first, colour = one_a_burst(some.some(which))
    shown, true = some.shown_s[which][first], one.true_s[which][first]
    return shown, colour >= 0.5, float((true - shown).mean()), deployment


def test_one_day_left_is_found_to_the_minute(lost) -> None:
    shown, day, shift, deployment = lost
    bounds = OffsetBounds(shift - 8 * HOUR, shift + 9 * HOUR, True)
    found = place(shown, day, bounds, lambda a, b: sky(deployment, a, b))
    assert abs(found.shift - shift) < 20 * 60
    assert found.low <= shift <= found.high
    assert found.high - found.low < HOUR
    assert "leave one day" in found.why


def test_behind_a_good_stretch_the_first_day_is_taken_and_at_the_end_the_last(lost) -> None:
    shown, day, shift, deployment = lost
    wide = (shift - 6 * HOUR, shift + 5 * DAY_S)
    found = place(shown, day, OffsetBounds(*wide, True), lambda a, b: sky(deployment, a, b))
    assert abs(found.shift - shift) < 20 * 60
    assert (found.low, found.high) == wide
    wide = (shift - 5 * DAY_S, shift + 6 * HOUR)
    found = place(shown, day, OffsetBounds(*wide, False), lambda a, b: sky(deployment, a, b))
    assert abs(found.shift - shift) < 20 * 60


def test_without_light_the_order_of_files_has_to_do(lost) -> None:
    shown, _, shift, deployment = lost
    dark = np.zeros(len(shown), dtype=bool)
    bounds = OffsetBounds(shift - HOUR, shift + DAY_S, True)
    found = place(shown, dark, bounds, lambda a, b: sky(deployment, a, b))
    assert (found.shift, found.low, found.high) == (bounds.low, bounds.low, bounds.high)
    assert "can't check this clock by daylight" in found.why


def test_no_room_and_contradictions_are_said(lost) -> None:
    shown, day, shift, deployment = lost
    found = place(
        shown, day, OffsetBounds(shift, shift - 60, True), lambda a, b: sky(deployment, a, b)
    )
    assert "no room" in found.why
    assert not found.fits
    bounds = OffsetBounds(shift + 5 * HOUR, shift + 7 * HOUR, True)
    found = place(shown, day, bounds, lambda a, b: sky(deployment, a, b))
    assert "contradict" in found.why
    assert not found.fits
