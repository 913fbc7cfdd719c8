"""What one picture measures: light classes, casts, info strips, flaws, glances, thumbnails."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from pixels_views import TONES, pictures, seen, through_jpeg
from scenes import Grid, Weather, Woods, shoot

from camsign.pixels.decode import Reduced, Undecodable, decode_reduced
from camsign.pixels.glance import LONG_SIDE, pack, unpack
from camsign.pixels.info_strip import find_strips
from camsign.pixels.look import flaws, light_of, look, measure
from camsign.pixels.see import remake_thumb
from camsign.pixels.thumbs import WIDTH, save_thumb, thumb_path, thumbnail


@pytest.mark.thorough
def test_light_and_flaws_are_right_in_99_of_100_rendered_pictures() -> None:
    lights = {"dark": "dark", "infrared": "infrared"} | dict.fromkeys(TONES, "infrared")
    flaw = {"fog": "fogged", "blur": "blurred", "washed": "washed", "flash": "flash"}
    right = wrong = 0
    missed: dict[str, int] = dict.fromkeys(flaw.values(), 0)
    for seed in range(24):
        for kind, pixels in pictures(seed).items():
            light, numbers = seen(pixels)
            ok = light == lights.get(kind, "colour")
            found = {name for name in flaw.values() if numbers[name] > 0.5}
            false = found - {flaw.get(kind, "")}
            right, wrong = right + (ok and not false), wrong + (not ok or bool(false))
            if kind in flaw and flaw[kind] not in found:
                missed[flaw[kind]] += 1
    assert wrong <= 0.01 * (right + wrong), (right, wrong)
    assert max(missed.values()) <= 4, missed  # of 24: a milky or a pale scene may be either


def test_real_trail_pictures_are_color_with_both_strips(samples: Path) -> None:
    # The strips of these two pictures are 8 reduced rows tall, read off by eye.
    for name in ("exif-samples/trail-1.jpg", "mei/trail-2.jpg"):
        reduced = decode_reduced((samples / "exif" / name).read_bytes())
        assert isinstance(reduced, Reduced)
        light, numbers = seen(reduced.pixels)
        assert light == "colour"
        assert (numbers["strip_top"], numbers["strip_bottom"]) == (8, 8)
        assert max(numbers[n] for n in ("flash", "fogged", "washed", "blurred")) < 0.5


@pytest.mark.thorough
def test_real_pictures_toned_to_one_hue_are_infrared(samples: Path) -> None:
    for name in ("exif-samples/trail-1.jpg", "mei/trail-2.jpg"):
        picture = cv2.imread(str(samples / "exif" / name))
        gray = cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY) / 255
        for tone in TONES.values():
            assert seen(through_jpeg(np.clip(tone(gray), 0, 1) * 255, 70))[0] == "infrared"


@pytest.mark.parametrize("ground", [0, 40, 235])
@pytest.mark.parametrize("tall", [8, 16, 26])
def test_a_strip_with_letters_is_found_to_the_row(ground: int, tall: int) -> None:
    pixels = shoot(Woods(3), np.random.default_rng(3), Weather())[0]
    pixels[-tall:] = ground
    letters = 255 if ground < 128 else 0
    cv2.putText(pixels, "12.10.2030 07:15 31F", (4, 240 - tall // 3), 0, tall / 45, (letters,) * 3)
    top, bottom = find_strips(cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY))
    assert top == 0
    assert abs(bottom - tall) <= 1


@pytest.mark.thorough
def test_scenes_without_a_strip_have_none() -> None:
    for seed in range(20):
        rng, woods = np.random.default_rng(seed), Woods(seed)
        for light in ("colour", "infrared"):
            pixels = shoot(woods, rng, Weather(hour=7 + seed / 2, sway=2), light)[0]
            gray = cv2.cvtColor(pixels.astype(np.uint8), cv2.COLOR_BGR2GRAY)
            assert find_strips(gray) == (0, 0), (seed, light)


def test_the_strip_does_not_change_the_measures() -> None:
    pixels = shoot(Woods(5), np.random.default_rng(5), Weather())[0]
    bare = look("f", Reduced(pixels[:-20].copy(), 320, 220))
    pixels[-20:] = 0
    cv2.putText(pixels, "CAM 04 07:15", (4, 234), 0, 0.5, (255, 255, 255))
    framed = look("f", Reduced(pixels, 320, 240))
    assert framed.brightness == pytest.approx(bare.brightness, rel=0.01)
    assert framed.contrast == pytest.approx(bare.contrast, rel=0.02)


def test_a_cut_picture_is_measured_where_it_is_there() -> None:
    pixels = shoot(Woods(6), np.random.default_rng(6), Weather())[0]
    there = look("f", Reduced(pixels[:120].copy(), 320, 120))
    pixels[120:] = 128
    cut = look("f", Reduced(pixels, 320, 240, seen=0.5))
    assert (cut.brightness, cut.light) == (there.brightness, there.light)


@settings(max_examples=80, deadline=None)
@given(
    hnp.arrays(
        np.uint8, st.tuples(st.integers(1, 40), st.integers(1, 40), st.just(3)),
        elements=st.integers(0, 255),
    )
)  # fmt: skip
def test_any_picture_of_any_size_is_measured(pixels: Grid) -> None:
    gray = cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY)
    m = measure(pixels, gray)
    assert light_of(m) in ("colour", "infrared", "dark")
    assert all(0 <= score <= 1 for score in flaws(m).values())
    assert look("f", Reduced(pixels, 1, 1)).frame == "f"


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from([bool, "u1", "i1", "u2", "i2", "i4", "i8", "f2", "f4", "f8", "c8"]),
    st.integers(1, 60), st.integers(1, 700), st.integers(1, 5), st.integers(0, 9),
    st.sampled_from([".png", ".jpg"]),
)  # fmt: skip
def test_any_array_of_any_size_and_kind_gives_a_look_or_a_reason(
    kind: str, rows: int, columns: int, channels: int, seed: int, ending: str
) -> None:
    # What the encoder does not know is handed over as it lies in memory: no picture, so a reason.
    rng = np.random.default_rng(seed)
    array = (rng.random((rows, columns, channels)) * 60_000).astype(kind)
    try:
        data = cv2.imencode(ending, array)[1].tobytes()
    except (cv2.error, TypeError):
        data = array.tobytes()
    reduced = decode_reduced(data)
    if isinstance(reduced, Undecodable):
        assert reduced.reason
        return
    found = look("f", reduced)
    assert found.light in ("colour", "infrared", "dark")
    assert unpack(found.glance) is not None


def test_a_glance_is_small_and_close_to_what_it_shows() -> None:
    gray = cv2.cvtColor(pictures(2)["day"].astype(np.uint8), cv2.COLOR_BGR2GRAY)
    packed = pack(gray)
    back = unpack(packed)
    assert back is not None
    assert max(back.shape) == LONG_SIDE
    assert len(packed) < 20_000
    small = cv2.resize(gray, back.shape[::-1], interpolation=cv2.INTER_AREA)
    assert np.abs(small.astype(int) - back).mean() < 3
    assert unpack(b"") is None
    assert unpack(b"not a picture") is None


def test_a_thumbnail_is_made_kept_and_made_again(tmp_path: Path) -> None:
    pixels = shoot(Woods(8), np.random.default_rng(8), Weather())[0]
    file = tmp_path / "a.jpg"
    file.write_bytes(cv2.imencode(".jpg", cv2.resize(pixels, (1280, 960)))[1].tobytes())
    thumbs, frame = tmp_path / "thumbs", "0123456789abcdef"
    made = remake_thumb(thumbs, frame, file)
    assert made == thumb_path(thumbs, frame)
    first = thumb_path(thumbs, frame).read_bytes()
    assert cv2.imdecode(np.frombuffer(first, np.uint8), 1).shape[1] == WIDTH
    thumb_path(thumbs, frame).unlink()
    remake_thumb(thumbs, frame, file)
    assert thumb_path(thumbs, frame).read_bytes() == first
    assert [p.name for p in thumb_path(thumbs, frame).parent.iterdir()] == [f"{frame}.jpg"]
    gone = remake_thumb(thumbs, "f" * 16, tmp_path / "gone.jpg")
    assert isinstance(gone, Undecodable)
    assert "not on this machine" in gone.reason
    reduced = decode_reduced(file.read_bytes())
    assert isinstance(reduced, Reduced)
    assert save_thumb(thumbs, frame, thumbnail(reduced)).read_bytes() == first
