"""A detector of the user's own: what goes in, what comes out, and what is refused in one line."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from numpy.typing import NDArray
from tiny_models import SIDE, frozen_graph, onnx_model, recipe

from camsign.errors import InputRefused
from camsign.logbook.records import Detected
from camsign.pixels.detector import Box, Detector, around, enough_of, prepared
from camsign.pixels.network_outputs import hits
from camsign.pixels.recipe import LAYOUTS, Recipe, read_recipe

SAID = Recipe(
    32, 32, (1.0,) * 3, (0.0,) * 3, True, False, False,
    ("", "animal", "animal", "person", "vehicle"), "detections", True, False, False, False, 0.25,
    None, "",
)  # fmt: skip
RED: Box = (0.5, 0.25, 0.1, 0.1)


def picture(columns: int = 400, rows: int = 300, box: Box = RED) -> NDArray[np.uint8]:
    """Blue, but for a wide surrounding of the box, which is red (BGR)."""
    out = np.full((rows, columns, 3), (200, 0, 0), np.uint8)
    left, top, wide, tall = around(box, columns, rows)
    out[top : top + tall, left : left + wide] = (0, 0, 204)
    return out


def detections(path: Path, number: int = 1, score: float = 1.0) -> Path:
    """One detection of that class, as sure as the picture is red, and one of a thing."""
    base = [[[[0, number, 0, 0.25, 0.25, 0.75, 0.5], [0, 0, 1, 0, 0, 1, 1]]]]
    weight = np.zeros((1, 1, 2, 7))
    weight[0, 0, 0, 2] = score
    return recipe(onnx_model(path, [(base, weight)]), "detections")


def test_only_the_changed_region_is_looked_at_and_its_box_is_the_pictures(tmp_path: Path) -> None:
    detector = Detector(detections(tmp_path / "m.onnx"))
    found = detector.look("f", picture(), RED)
    # The whole picture is red by 3%; the region, 1.6 times the box, all of it, 204 of 255.
    assert found.animal == pytest.approx(0.8, abs=0.01)
    assert (found.person, found.vehicle) == (0, 0)
    left, top, wide, tall = around(RED, 400, 300)
    assert (wide, tall) == (64, 64)
    expected = ((left + wide / 4) / 400, (top + tall / 4) / 300, wide / 800, tall / 1200)
    box = (found.box_x, found.box_y, found.box_width, found.box_height)
    assert box == pytest.approx(expected, abs=0.002)
    assert detector.look("g", picture(), (0.1, 0.1, 0.1, 0.1)) == Detected("g", detector.name)


@pytest.mark.parametrize(("number", "means"), [(1, "animal"), (2, "animal"), (3, "person")])
def test_any_class_that_means_an_animal_is_one_and_no_class_is_kept(
    number: int, means: str, tmp_path: Path
) -> None:
    found = Detector(detections(tmp_path / "m.onnx", number)).look("f", picture(), RED)
    scores = {name: getattr(found, name) for name in ("animal", "person", "vehicle")}
    assert [name for name, score in scores.items() if score] == [means]
    assert not any(word in repr(found) for word in ("cow", "horse"))


def candidates(objectness: bool, upright: bool) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Three candidates: nothing, a cow in the middle as sure as red, a sure thing."""
    wide = 4 + objectness + 5
    base, weight = np.zeros((3, wide), np.float32), np.zeros((3, wide), np.float32)
    base[:, :4] = (16, 8, 16, 8)  # center and sides in pixels of the input
    if objectness:
        base[:, 4] = 1
    base[2, 4 + objectness] = 1
    weight[1, 4 + objectness + 1] = 1
    return (base[None], weight[None]) if upright else (base.T[None], weight.T[None])


@pytest.mark.parametrize("objectness", [False, True])
@pytest.mark.parametrize("upright", [False, True])
def test_candidates_are_read_whichever_way_they_lie(
    objectness: bool, upright: bool, tmp_path: Path
) -> None:
    model = onnx_model(tmp_path / "m.onnx", [candidates(objectness, upright)])
    recipe(model, "candidates", f"objectness = {str(objectness).lower()}")
    found = Detector(model).look("f", picture(), RED)
    assert found.animal == pytest.approx(0.8, abs=0.01)
    assert found.person == found.vehicle == 0
    left, top, _, _ = around(RED, 400, 300)
    assert found.box_x == pytest.approx((left + 16) / 400, abs=0.002)
    assert found.box_width == pytest.approx(32 / 400, abs=0.002)
    assert found.box_y == pytest.approx((top + 8) / 300, abs=0.002)
    assert found.box_height == pytest.approx(16 / 300, abs=0.002)


def test_boxes_and_scores_may_come_apart_as_corners_in_shares_and_as_logits(
    tmp_path: Path,
) -> None:
    boxes = np.tile(np.array([0.5, 0.0, 1.0, 1.0], np.float32), (1, 2, 1))
    scores, weight = np.full((1, 2, 5), -20, np.float32), np.zeros((1, 2, 5), np.float32)
    scores[0, 1, 4], weight[0, 1, 4] = -0.8, 1.0  # a truck: the logit is 0 where red is 0.8
    model = onnx_model(tmp_path / "m.onnx", [(boxes, boxes * 0), (scores, weight)])
    recipe(model, "boxes and scores", 'boxes = "corners"\nunit = "shares"\nscores = "logits"')
    found = Detector(model).look("f", picture(), RED)
    assert found.vehicle == pytest.approx(0.5, abs=0.01)
    assert found.box_width == pytest.approx(32 / 400, abs=0.002)


def test_a_frozen_graph_says_the_same_as_the_onnx_model(tmp_path: Path) -> None:
    base, weight = [0, 2, 0, 0.25, 0.25, 0.75, 0.5], [0, 0, 1, 0, 0, 0, 0]
    model = recipe(frozen_graph(tmp_path / "g.pb", base, weight), "detections")
    other = Detector(detections(tmp_path / "m.onnx", 2)).look("f", picture(), RED)
    found = Detector(model).look("f", picture(), RED)
    assert found.animal == pytest.approx(other.animal, abs=0.002)
    assert found.box_x == other.box_x
    # The same with its layers in a text graph and only the weights in the binary one.
    text = tmp_path / "g.pbtxt"
    cv2.dnn.writeTextGraph(str(model), str(text))
    nodes = re.split(r"(?m)^(?=node \{)", text.read_text())
    text.write_text("".join(node for node in nodes if 'op: "Const"' not in node))
    again = Detector(recipe(model, "detections", '[model]\ngraph = "g.pbtxt"'))
    assert again.look("f", picture(), RED).animal == found.animal
    recipe(model, "detections", '[model]\ngraph = "none.pbtxt"')
    with pytest.raises(InputRefused, match=r"none\.pbtxt cannot be read"):
        Detector(model)


@settings(max_examples=60, deadline=None)
@given(
    hnp.arrays(np.float32, st.tuples(st.integers(0, 5), st.just(9)), elements=st.floats(width=32)),
    st.sampled_from(LAYOUTS),
)
def test_any_numbers_that_come_out_give_sound_hits_or_a_named_refusal(
    numbers: NDArray[np.float32], layout: str
) -> None:
    said = replace(SAID, layout=layout)
    outputs = [numbers[:, :7]] if layout == "detections" else [numbers]
    if layout == "boxes and scores":
        outputs = [numbers[:, :4], numbers[:, 4:]]
    with np.errstate(all="ignore"):
        for hit in hits(outputs, said):
            assert hit.meaning in ("animal", "person", "vehicle")
            assert said.least_score <= hit.score <= 1
            assert all(0 <= v <= 1 for v in hit.box)
    with pytest.raises(InputRefused, match="lets expect"):
        hits([numbers[:, :3]], said)


@given(
    st.tuples(*[st.floats(0, 1)] * 4), st.integers(1, 5000), st.integers(1, 5000)
)  # fmt: skip
def test_the_region_lies_in_the_picture_and_holds_the_middle_of_the_news(
    box: Box, columns: int, rows: int
) -> None:
    left, top, wide, tall = around(box, columns, rows)
    assert 0 <= left and left + wide <= columns and wide >= 1  # noqa: SIM300
    assert 0 <= top and top + tall <= rows and tall >= 1  # noqa: SIM300
    x = min(box[0] + box[2] / 2, 1) * columns
    assert left - 1 <= x <= left + wide + 1


def test_the_input_is_scaled_ordered_and_filled_up_as_the_recipe_says(tmp_path: Path) -> None:
    model = recipe(tmp_path / "m.onnx", "detections", scale="[1.0, 0.5, 0.25]")
    toml = model.with_suffix(".toml")
    part = np.full((8, 16, 3), (40, 80, 120), np.uint8)
    plain, filled = prepared(part, read_recipe(toml))
    assert plain.shape == (1, 3, SIDE, SIDE)
    assert plain[0, :, 5, 5].tolist() == [120.0, 40.0, 10.0]  # red, green, blue
    assert filled == (1, 1)
    text = toml.read_text().replace('channels = "RGB"', 'channels = "BGR"\nfit = "pad"\nmean = 8')
    toml.write_text(text.replace("[classes]", 'order = "NHWC"\n[classes]'))
    padded, filled = prepared(part, read_recipe(toml))
    assert padded.shape == (1, SIDE, SIDE, 3)
    assert padded[0, 5, 5].tolist() == [32.0, 36.0, 28.0]
    assert filled == (1, 0.5)
    assert padded[0, 20, 5].tolist() == [119.0, 59.5, 29.75]


def test_a_picture_is_decoded_no_finer_than_the_network_needs_and_also_when_cut(
    tmp_path: Path,
) -> None:
    said = read_recipe(recipe(tmp_path / "m.onnx", "detections").with_suffix(".toml"))
    data = cv2.imencode(".jpg", picture(1600, 1200))[1].tobytes()
    sides = {}
    for name, box in {"small": (0.5, 0.5, 0.02, 0.02), "large": (0.1, 0.1, 0.6, 0.6)}.items():
        found = enough_of(data, box, said)
        assert found is not None
        sides[name] = found.shape[1]
    assert sides == {"small": 1600, "large": 400}
    cut = enough_of(data[: len(data) // 2], RED, said)
    assert cut is not None and cut.shape[2] == 3
    assert enough_of(b"\xff\xd8\xff nothing", RED, said) is None


BAD = {
    "no file": ("", "is missing"),
    "no toml": ("width = = 3", "cannot be read"),
    "no width": ("height = 32", r"\[input\] width is missing"),
    "odd width": ("width = 'wide'", "whole number"),
    "odd scale": ("width = 32\nheight = 32\nscale = [1, 2]", "list of three"),
    "huge scale": (f"width = 32\nheight = 32\nscale = 1{'0' * 400}", "too large a number"),
    "odd channels": ("width = 32\nheight = 32\nchannels = 'RBG'", '"RGB", "BGR"'),
    "unknown key": ("width = 32\nheight = 32\nmeen = 3", "meen means nothing"),
}


@pytest.mark.parametrize("case", BAD)
def test_a_bad_recipe_is_one_clear_line(case: str, tmp_path: Path) -> None:
    said, words = BAD[case]
    model = detections(tmp_path / "m.onnx")
    toml = model.with_suffix(".toml")
    rest = toml.read_text().split("[classes]")[1]
    toml.write_text(f"[input]\n{said}\n[classes]{rest}")
    if case == "no file":
        toml.unlink()
    with pytest.raises(InputRefused) as e:
        Detector(model)
    assert re.search(words, str(e.value)) and "m.toml" in str(e.value)
    assert "\n" not in str(e.value)


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ('"truck"]\nanimal', '"lorry"]\nanimal', "not in names"),
        ('person = ["person"]', 'person = ["cow"]', "animal too"),
        ('layout = "detections"', 'layout = "grid"', "it can be"),
        ('layout = "detections"', 'layout = "candidates"', "1x1x2x7, where"),
        ('layout = "detections"', 'layout = "boxes and scores"', "as many rows of 4 as of 5"),
        ('layout = "detections"', 'layout = "detections"\nleast_score = 1.5', "between 0 and 1"),
        ("scale =", 'order = "NHWC"\nscale =', "does not take a picture of 32 x 32"),
    ],
)
def test_what_does_not_fit_the_network_is_one_clear_line(
    before: str, after: str, words: str, tmp_path: Path
) -> None:
    model = detections(tmp_path / "m.onnx")
    toml = model.with_suffix(".toml")
    assert before in toml.read_text()
    toml.write_text(toml.read_text().replace(before, after))
    with pytest.raises(InputRefused) as e:
        Detector(model)
    assert words in str(e.value)
    assert "\n" not in str(e.value)


@pytest.mark.parametrize("name", [".", "..", "/", "model", "m.onnx"])
def test_what_is_no_file_of_a_detector_is_one_clear_line(name: str, tmp_path: Path) -> None:
    (tmp_path / "m.toml").mkdir()
    with pytest.raises(InputRefused, match=r"is no detector|cannot be read") as e:
        Detector(tmp_path / name if name == "m.onnx" else Path(name))
    assert "\n" not in str(e.value)


@pytest.mark.parametrize("name", ["m.onnx", "m.pb"])
@pytest.mark.parametrize("data", [b"", b"no network at all" * 9])
def test_a_damaged_network_is_one_clear_line(name: str, data: bytes, tmp_path: Path) -> None:
    model = recipe(tmp_path / name, "detections")
    model.write_bytes(data)
    with pytest.raises(InputRefused, match="no network that OpenCV reads") as e:
        Detector(model)
    assert "\n" not in str(e.value)
    model.unlink()
    with pytest.raises(InputRefused, match="cannot be read"):
        Detector(model)
