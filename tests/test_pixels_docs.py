"""docs/pixels.md says what the code does: its recipe is read, keys and numbers are the code's."""

from __future__ import annotations

import re
from pathlib import Path

from camsign.answers.frames import FrameRow
from camsign.logbook.settings import Settings
from camsign.pixels import detector, travel
from camsign.pixels.recipe import LAYOUTS, Recipe, read_recipe
from camsign.pixels.scores import SET_ASIDE
from camsign.pixels.steady import LEAST_SHIFT

DOCS = Path(__file__).resolve().parents[1] / "docs"
TEXT = (DOCS / "pixels.md").read_text(encoding="utf-8")


def recipe_of(path: Path, text: str) -> Recipe:
    path.write_text(text, encoding="utf-8")
    return read_recipe(path)


def test_the_worked_recipe_is_read_and_means_what_is_said(tmp_path: Path) -> None:
    text = TEXT.split("<!-- recipe -->")[1].split("```toml")[1].split("```")[0]
    said = recipe_of(tmp_path / "barn.toml", text)
    assert (said.width, said.height, said.layout) == (300, 300, "detections")
    assert abs(said.scale[0] * 127.5 - 1) < 1e-3
    assert said.meanings[0] == "" and said.meanings[1] == "person"
    assert said.meanings.count("animal") == 7 and said.meanings.count("vehicle") == 3
    assert (said.in_pixels, said.pad, said.least_score) == (False, False, 0.25)


def test_every_key_of_a_recipe_is_in_the_table_and_can_be_said(tmp_path: Path) -> None:
    rows = TEXT.split("<!-- keys -->")[1].split("\n\n")[0].splitlines()[3:]
    told: dict[str, list[str]] = {}
    for row in rows:
        first = row.split("|")[1]
        (table,) = re.findall(r"\[(\w+)\]", first)
        told.setdefault(table, []).extend(re.findall(r"`(?:\[\w+\] )?(\w+)`", first))
    values = {
        "width": "32", "height": "32", "mean": "0", "scale": "1", "channels": '"BGR"',
        "fit": '"pad"', "order": '"NHWC"', "names": '["a", "b", "c"]', "animal": '["a"]',
        "person": '["b"]', "vehicle": '["c"]', "layout": '"candidates"', "boxes": '"corners"',
        "unit": '"shares"', "objectness": "true", "scores": '"logits"', "least_score": "0.5",
        "graph": '"g.pbtxt"',
    }  # fmt: skip
    assert sorted(k for keys in told.values() for k in keys) == sorted(values)
    lines = [f"[{t}]\n" + "".join(f"{k} = {values[k]}\n" for k in keys) for t, keys in told.items()]
    said = recipe_of(tmp_path / "m.toml", "".join(lines))
    assert said.corners and said.objectness and said.logits and said.pad and said.channels_last
    assert said.graph == tmp_path / "g.pbtxt"
    assert all(f'"{layout}"' in TEXT for layout in LAYOUTS)


def test_keys_and_numbers_are_the_codes() -> None:
    table = TEXT.split("| in `frames --json`")[1].split("\n\n")[0]
    keys = {k for row in table.splitlines()[2:] for k in re.findall(r"`(\w+)`", row.split("|")[1])}
    assert keys <= set(FrameRow.__slots__)
    assert len(keys) == 19
    assert f"`empty_score` is above {SET_ASIDE}" in TEXT
    assert f"{detector.ENLARGED} times as large" in TEXT
    assert f"{travel.SPREAD_DEG:.0f}° to either side" in TEXT
    assert f"below {LEAST_SHIFT * 100:g}% of the picture's width" in TEXT
    assert f"({Settings.__dataclass_fields__['burst_gap_s'].default:.0f} s unless" in TEXT


def test_the_pictures_are_there_and_small() -> None:
    names = re.findall(r"\]\((pictures/[\w.-]+)\)", TEXT)
    assert len(names) == 4
    assert sum((DOCS / name).stat().st_size for name in names) < 600_000
