"""The Python side: typed, documented, one dtype a column; and the tables without camsign."""

from __future__ import annotations

import inspect
import pydoc
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from datetime import date
from importlib import import_module
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from PIL import Image

import camsign
from camsign import many
from camsign.answers.frames import Wanted, frames
from camsign.api.saying import _RUN
from camsign.errors import UsageError
from camsign.logbook.things import THINGS
from camsign.sign.record import PLAIN

ROOT = Path(__file__).resolve().parents[1]
BOOK = ROOT / "fixtures" / "logbooks" / "quiet-ridge"
LOCAL, UTC = "datetime64[us, America/New_York]", "datetime64[us, UTC]"


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    home = tmp_path_factory.mktemp("api")
    shutil.copytree(BOOK, home / "quiet-ridge")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CAMSIGN_CACHE", str(home / "cache"))
        patch.setenv("CAMSIGN_CONFIG", str(home / "config"))
        yield camsign.open(home / "quiet-ridge")


@pytest.fixture(autouse=True)
def _cached(book: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CAMSIGN_CACHE", str(book.folder.root.parent / "cache"))
    monkeypatch.setenv("CAMSIGN_CONFIG", str(book.folder.root.parent / "config"))


def frames_of(book: Any, season: int | None) -> dict[str, pd.DataFrame]:
    """Frames that hold times or days; of a season without watch they are empty."""
    buck = book.bucks()["buck"][0]
    area = book.areas()["area"][0]
    of = {} if season is None else {"season": season}
    return {
        "visits": book.visits(**of), "near": book.near(**of), "when": book.when(buck, area, **of),
        "rivals": book.rivals(area, **of), "compare": book.compare(**of),
        "signs": book.signs(season=season), "lines": book.sign_lines(season),
        "sql": book.sql("SELECT frame, utc, local, day, travel_deg, in_daylight FROM detections"
                        + (" WHERE false" if season else "")),
    }  # fmt: skip


@pytest.mark.thorough
def test_times_are_aware_in_one_dtype_and_days_are_dates(book: Any) -> None:
    frames = frames_of(book, None) | {
        "frames": book.frames(), "deployments": book.deployments(), "bucks": book.bucks(),
        "cards": book.cards(), "sits": book.sits(), "history": book.history(),
    }  # fmt: skip
    kinds: set[str] = set()
    for name, frame in frames.items():
        for column in frame.columns:
            said = str(frame[column].dtype)
            if said.startswith("datetime"):
                assert said == (UTC if column == "utc" else LOCAL), (name, column)
                kinds.add(said)
            values = [v for v in frame[column] if isinstance(v, date)]
            if values and not said.startswith("datetime"):
                assert all(type(v) is date for v in values), (name, column)
    assert kinds == {LOCAL, UTC}
    seen = frames["sql"]
    assert ((seen["utc"] - seen["local"]).dt.total_seconds() == 0).all()


@pytest.mark.thorough
def test_a_frame_without_rows_has_the_same_dtypes(book: Any) -> None:
    full, empty = frames_of(book, None), frames_of(book, 2015)
    tried = 0
    for name, frame in empty.items():
        assert not len(frame) or name in ("visits", "compare"), name
        for column in full[name].columns if not len(frame) else ():
            if name == "signs" and column not in PLAIN:
                continue  # a measure is a column where somebody took it
            assert column in frame.columns, (name, column)
            kinds = [str(one[column].dtype) for one in (frame, full[name])]
            assert kinds[0] == kinds[1], (name, column)  # categories name what is in them
            tried += 1
    assert tried > 60


def test_a_list_without_rows_has_the_columns_it_will_have(book: Any, tmp_path: Path) -> None:
    """What a notebook asks of a new logbook it may ask of a full one, and the other way round."""
    new = camsign.start(tmp_path / "new", "44.2,-71.4")
    tried = 0
    for name in ("visits", "near", "sign_lines", "bucks", "areas", "deployments", "frames"):
        none, some = (getattr(one, name)() for one in (new, book))
        assert not len(none) and (len(some) or name == "sign_lines"), name
        there = [c for c in some.columns if str(some[c].dtype) != str(none.get(c, some[c]).dtype)]
        assert there == [] and set(some.columns) <= set(none.columns), name
        tried += len(some.columns)
    assert tried > 60


def test_frames_join_on_utc(book: Any) -> None:
    with book.session() as session:
        assert len(frames(session, Wanted())) == len(book.frames()) > 0
    seen = book.sql("SELECT frame, utc, buck FROM detections")
    joined = book.frames().merge(seen, on=["utc", "frame"])
    assert len(joined) == len(seen) > 0
    assert joined["utc"].dtype == UTC
    near = book.near()
    if len(near):
        assert len(near.merge(seen.drop_duplicates("frame"), on="utc"))


def public() -> list[tuple[str, Any]]:
    methods = [(f"Logbook.{n}", m) for n, m in inspect.getmembers(camsign.Logbook)
               if not n.startswith("_") and callable(m)]  # fmt: skip
    return [*methods, ("open", camsign.open), ("start", camsign.start)]


def test_every_public_name_says_what_it_does_and_has_types() -> None:
    assert len(public()) > 50
    for name, one in public():
        assert len(inspect.getdoc(one) or "") > 25, name
        spec = inspect.signature(one)
        assert spec.return_annotation is not inspect.Signature.empty, name
        for parameter in spec.parameters.values():
            typed = parameter.annotation is not inspect.Parameter.empty
            assert typed or parameter.name == "self", (name, parameter)


def test_help_is_a_tour_and_each_name_in_it_is_there() -> None:
    told = pydoc.plain(pydoc.render_doc(camsign))
    assert "A tour" in told
    assert "open(path" in told
    assert "start(path" in told
    used = set(re.findall(r"book\.(\w+)\(", camsign.__doc__ or ""))
    assert len(used) > 8
    assert used <= {name.rpartition(".")[2] for name, _ in public()}
    assert {"open", "start", "Logbook"} <= set(dir(camsign))


@pytest.mark.thorough
def test_mypy_sees_what_open_gives(tmp_path: Path) -> None:
    asks = tmp_path / "asks.py"
    asks.write_text(
        "import camsign\n"
        "book = camsign.open('hollow')\n"
        "reveal_type(camsign.open)\n"
        "reveal_type(book)\n"
        "reveal_type(book.visits())\n"
        "book.visits(seasn=2025)\n"
    )
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--config-file", str(ROOT / "pyproject.toml"),
         "--cache-dir", str(tmp_path / "cache"), str(asks)],
        capture_output=True, text=True, cwd=tmp_path, check=False,
    )  # fmt: skip
    said = done.stdout
    assert "def (path: str | pathlib.Path) -> camsign.api.Logbook" in said
    assert 'Revealed type is "camsign.api.Logbook"' in said
    assert "DataFrame" in said
    assert 'Unexpected keyword argument "seasn"' in said


# Commands that are a front of their own, or start one.
_FRONTS = {"init", "demo", "browse"}
_CALLED = {
    "import": "take_files", "hang import": "take_files", "map": "map", "sign list": "signs",
    "sign import": "import_sign", "sign lines": "sign_lines", "sign show": "sign",
    "sign alike": "alike_signs", "habit list": "habits", "habit propose": "propose_habits",
    "buck list": "bucks", "buck show": "bucks", "buck import": "import_bucks",
    "area list": "areas", "area import": "import_areas", "area propose": "propose_areas",
    "place list": "places", "sit list": "sits", "sit pressure": "pressure",
    "cards list": "cards", "cards show": "card", "cards set": "set_card",
    "cards moved": "moved_cameras", "clock audit": "audit_clocks", "clock list": "corrections",
    "clock set": "set_clock", "clock remove": "remove_clock", "ground import": "import_ground",
    "wind import": "import_wind", "wind beds": "wind_beds", "underlay list": "underlays",
    "underlay add": "add_underlay",
    "export handheld": "export_points", "export points": "export_points",
    "export tables": "export_tables", "export pictures": "export_pictures",
    "export camtrap": "export_camtrap", "export lake": "export_lake", "hang-next": "hang_next",
    "hang camera": "hang",
}  # fmt: skip
# What is asked of several logbooks is asked of `camsign.open_many` and `camsign.open_lake`.
_OF_MANY = {"buck link": "link", "lake visits": "visits", "lake when": "when",
            "lake compare": "compare"}  # fmt: skip


def test_every_command_has_its_method() -> None:
    from reference import commands

    names = {name.rpartition(".")[2] for name, _ in public()}
    missing = []
    for words, _, _ in commands():
        said = words.removeprefix("camsign ").strip()
        thing, _, verb = said.partition(" ")
        thing = {"hang": "deployment"}.get(thing, thing)
        there = said in _FRONTS or _CALLED.get(said, said) in names
        several = any(
            hasattr(one, _OF_MANY.get(said, "")) for one in (many.Logbooks, many.LakeBook)
        )
        if not there and not several and verb not in _RUN.get(thing, {}):
            missing.append(said)
    assert missing == []


def test_what_is_said_in_python_is_said_as_on_the_command_line(tmp_path: Path) -> None:
    new = camsign.start(tmp_path / "hollow", "44.2,-71.4", tz="America/New_York")
    rub = new.say("sign", "add", kind="rub", at="44.2005,-71.4005", seen="2025-10-05", travel="NE")
    assert (rub.kind, rub.travel_deg) == ("rub", 45.0)
    habit = new.say("habit", "link", habit="High nicks", rubs=[rub.sign])
    assert habit.signs == (rub.sign,) and list(new.habits()["name"]) == ["High nicks"]
    assert new.say("habit", "unlink", rubs=[rub.sign]) == [rub.sign]
    new.say("area", "add", kind="bedding", name="Brindle Knob", at="44.2,-71.4", radius="80yd")
    assert list(new.areas()["area"]) == ["Brindle Knob"]
    assert "Brindle Knob" in new.undo().what
    assert len(new.areas()) == 0
    for thing, verb in (("bear", "add"), ("sign", "sing")):
        with pytest.raises(UsageError, match=f"there is no {thing} to {verb}"):
            new.say(thing, verb)
    with pytest.raises(UsageError, match="sign add takes no tree_age"):
        new.say("sign", "add", kind="rub", at="44.2,-71.4", tree_age="9")


def test_what_carries_a_verb_out_takes_its_fields_and_needs_no_other() -> None:
    """A command gives what was said and no more, so what may be left out has a default."""
    wrong = []
    for thing, verb, where in ((t, v, w) for t, verbs in _RUN.items() for v, w in verbs.items()):
        room, _, name = where.partition(":")
        run = inspect.signature(getattr(import_module(f"camsign.{room}"), name)).parameters
        declared = THINGS[thing].verb(verb)
        for field, needed in declared.fields.items():
            takes = run.get(field) or next(
                (p for p in run.values() if p.kind is p.VAR_KEYWORD), None
            )
            left_out = not needed and field not in declared.usual
            bare = takes is not None and takes.default is takes.empty
            if takes is None or (left_out and bare and takes.kind is not takes.VAR_KEYWORD):
                wrong.append((thing, verb, field))
    assert wrong == []


@pytest.mark.thorough
def test_what_else_the_command_line_does_is_done_in_python(book: Any, tmp_path: Path) -> None:
    shutil.copytree(BOOK, tmp_path / "quiet-ridge")
    mine = camsign.open(tmp_path / "quiet-ridge")
    card, sign = mine.cards()["card"][0], mine.signs()["sign"][0]
    shown = mine.card(card)
    assert shown.about.card == card and mine.sign(sign).sign == sign
    near, far = (mine.alike_signs(within) for within in (0.0, 1e6))
    assert len(near) <= len(far) > 0 and (far["distance_m"].diff().dropna() >= 0).all()
    assert set(mine.propose_habits().columns) >= {"marks", "signs", "p"}
    put_right = set(mine.corrections()["camera"])
    camera = next(c for c in mine.cards()["camera"] if c not in put_right)
    before = mine.frames(camera)["utc"]
    fix = mine.set_clock(camera, shift_s=3600.0, first="2025-01-01", reason="late")
    after = mine.frames(camera)["utc"]
    assert ((after - before).dt.total_seconds() == 3600).all() and len(after) == fix.frames > 0
    assert fix.clock_fix in set(mine.corrections()["clock_fix"])
    assert mine.remove_clock(fix.clock_fix).frames == fix.frames
    assert (mine.frames(camera)["utc"] == before).all()
    with pytest.raises(UsageError, match="in one way"):
        mine.set_card(card, "QR-9", file_times=True)
    other = next(c for c in mine.deployments()["camera"] if c != shown.about.camera)
    assert mine.set_card(card, other).camera == other
    Image.new("RGB", (8, 6)).save(tmp_path / "sheet.png")
    kept = mine.add_underlay(tmp_path / "sheet.png")
    assert kept.name == "sheet" and kept.underlay in set(mine.underlays()["underlay"])
    assert mine.export_lake(tmp_path / "lake").rows["detections"] >= 0
    rebuilt = mine.rebuild()
    assert rebuilt.frames == len(mine.frames()) and rebuilt.acts == len(mine.history())
    assert mine.look().frames >= 0


def test_tables_need_no_camsign(book: Any, tmp_path: Path) -> None:
    """The example of docs/handing-on.md as it stands there, by DuckDB and pandas alone."""
    text = (ROOT / "docs" / "handing-on.md").read_text("utf-8")
    (code,) = re.findall(r"```python\n(.*?)```", text, re.S)
    assert "camsign" not in code
    book.export_tables(tmp_path / "data", exact_places=True)
    script = tmp_path / "notebook.py"
    script.write_text(code, "utf-8")
    stop = "import sys; sys.modules['camsign'] = None\n"
    done = subprocess.run(
        [sys.executable, "-c", stop + code], capture_output=True, text=True, cwd=tmp_path,
        check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    counted = book.sql(
        "SELECT buck, count(*) AS n FROM detections WHERE buck IS NOT NULL GROUP BY 1"
    )
    assert len(counted)
    for buck in counted["buck"]:
        assert buck in done.stdout
