"""What other programs rely on: keys, versions, CSV beside JSON, what a command imports."""

# ruff: noqa: F811 - fixtures of another file are arguments here

from __future__ import annotations

import csv
import dataclasses
import inspect
import io
import json
import shutil
import subprocess
import sys
import types
import typing
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
import reference
from json_words import MEANS
from test_answers_fronts import BENCH, Show, session, show  # noqa: F401
from typer.main import get_command

from camsign import __version__
from camsign.answers.result import Answer
from camsign.cli import typed
from camsign.cli.app import app, run
from camsign.cli.families import WORDS, help_of
from camsign.cli.typed import resolved

ANSWERS = {
    "near": ("near",),
    "visits": ("visits", "--split", "month", "--against", "2025"),
    "visits by camera": ("visits", "--by", "camera"),
    "when": ("when", "Split Brow", BENCH),
    "bedding": ("bedding", BENCH),
    "where": ("where", "Split Brow"),
    "rivals": ("rivals", BENCH),
    "makers": ("makers", "s-rub"),
    "compare": ("compare",),
    "lately": ("lately", "--to", "2025-10-30"),
}
TABLE = {"when": "visits", "bedding": "bucks", "where": "places", "rivals": "known"} | {
    "makers": "makers"
}
GIVES = {words.split(" ", 1)[1]: c.callback.made for words, c, _ in reference.commands()
         if hasattr(c.callback, "made")}  # fmt: skip


@pytest.mark.thorough
@pytest.mark.parametrize("name", ANSWERS)
def test_json_has_the_keys_its_types_name(name: str, show: Show) -> None:
    """docs/json.md is made from these types, so a key that is printed and not there is found."""
    given = json.loads(show(*ANSWERS[name], "--json"))
    assert given.pop("schema") == 1
    assert given["said"] and given["method"] and {"watch", "why"} <= given.keys()
    fits(given, GIVES[ANSWERS[name][0]].gives)


def fits(value: Any, kind: Any) -> None:
    """Check a value against a type, keys and all."""
    args = typing.get_args(kind)
    if typing.get_origin(kind) in (types.UnionType, typing.Union):
        assert value is not None or type(None) in args
        kind = next(a for a in args if a is not type(None)) if value is not None else None
        args = typing.get_args(kind)
    if isinstance(kind, type) and dataclasses.is_dataclass(kind):
        keys = fields_of(kind)
        spare = {f.name for f in dataclasses.fields(kind) if f.metadata.get("spare")}
        assert keys.keys() - spare <= value.keys() <= keys.keys()
        for key in value:
            fits(value[key], keys[key])
    elif isinstance(value, list):
        for one in value:
            fits(one, args[0])
    elif isinstance(value, dict):
        for one in value.values():
            fits(one, args[1])


def fields_of(kind: type) -> dict[str, Any]:
    """The keys that a type's JSON has, with their types."""
    named = [f for f in dataclasses.fields(kind) if f.name != "table"]
    keys = {f.name: resolved(f.type, kind.__module__) for f in named}
    if issubclass(kind, Answer):
        keys["said"] = str
        if len(named) < len(dataclasses.fields(kind)):
            keys["rows"] = list[kind.ROW]  # type: ignore[name-defined]
    return keys


@pytest.mark.thorough
@pytest.mark.parametrize("name", ANSWERS)
def test_csv_says_what_json_says(name: str, show: Show) -> None:
    """Every value of every row of the JSON stands in the same row of the CSV, under its name."""
    rows = json.loads(show(*ANSWERS[name], "--json"))[TABLE.get(name, "rows")]
    table = list(csv.DictReader(io.StringIO(show(*ANSWERS[name], "--csv"))))
    assert len(rows) == len(table) > 0
    for row, cells in zip(rows, table, strict=True):
        for key, value in spread(row):
            assert cells[key] == ("" if value is None else str(value)), key


def spread(row: Mapping[str, Any]) -> list[tuple[str, Any]]:
    """The cells a row of JSON makes; lists of things are left to their own words."""
    found: list[tuple[str, Any]] = []
    for key, value in row.items():
        if isinstance(value, dict) and "value" in value:
            found += [(key if k == "value" else f"{key}_{k}", v) for k, v in value.items()]
        elif isinstance(value, list) and all(isinstance(v, str) for v in value):
            found.append((key, "; ".join(value)))
        elif not isinstance(value, dict | list):
            found.append((key, value))
    return found


def test_without_watch_an_answer_says_so(
    show: Show,
    capsys: pytest.CaptureFixture[str],
) -> None:
    for words in (("visits",), ("compare",), ("lately",)):
        given = json.loads(show(*words, "--season", "2019", "--json"))
        assert "not enough nights covered" in given["said"], given["said"]
        assert given["watch"][BENCH]["nights_watched"] == 0 and given["why"]
    assert run(["visits", "--season", "2019", "--csv"]) == 0
    assert "not enough nights covered" in capsys.readouterr().err


def test_lately_refuses_two_words_for_how_many_days(show: Show) -> None:
    """Beside --from it took no notice of --days, and said nothing."""
    told = show("lately", "--days", "3", "--from", "2025-10-01", code=2)
    assert "--days doesn't go with --from or --last; give one of them" in told
    days = json.loads(show("lately", "--from", "2025-10-20", "--to", "2025-10-22", "--json"))
    assert (days["first"], days["last"]) == ("2025-10-20", "2025-10-22")


def test_every_key_has_its_meaning() -> None:
    from json_page import Page

    page = Page()
    for made in GIVES.values():
        page.shape(made.gives)
    done: set[str] = set()
    while left := set(page.types) - done:
        for name in left:
            done.add(name)
            for key, _, _, null, meaning in page.keys(page.types[name]):
                assert meaning and "null" not in meaning + null, (name, key)
    named = {f.name for kind in page.types.values() for f in dataclasses.fields(kind)}
    named |= {f"{name}.{f.name}" for name, kind in page.types.items()
              for f in dataclasses.fields(kind)}  # fmt: skip
    assert set(MEANS) <= named | {"said", "schema", "rows"}, "words for keys that are gone"


def test_a_name_that_means_two_things_is_told_by_its_type() -> None:
    """An act's `said` is a time, an answer's a sentence; null is told where it can be null."""
    from json_page import Page

    from camsign.answers.when import When
    from camsign.logbook.history import Act

    act, when = ({key: (null, meaning) for key, _, _, null, meaning in Page().keys(kind)}
                 for kind in (Act, When))  # fmt: skip
    assert act["said"] == ("", "when it was said, in UTC")
    assert when["said"] == ("", "the answer in a sentence")
    assert when["buck"] == ("", "a buck's name") and when["last_seen"][0] == "none"


def test_the_rows_of_a_question_of_ones_own_are_told_as_they_are(show: Show) -> None:
    from json_page import Page

    given = json.loads(show("sql", "SELECT frame, utc FROM detections LIMIT 1", "--json"))
    assert given.keys() == {"schema", "rows"} and given["rows"][0].keys() == {"frame", "utc"}
    assert [(key, kind) for key, kind, *_ in Page().keys(GIVES["sql"].gives)] == [
        ("rows", "list of object of any by name")
    ]


def test_a_key_that_changes_makes_its_page_stale(monkeypatch: pytest.MonkeyPatch) -> None:
    from camsign.answers import where

    before = reference.json_page()
    assert before == (reference.ROOT / "docs" / "json.md").read_text(encoding="utf-8")
    other = dataclasses.make_dataclass("Place", [("area", str), ("odds", float)])
    monkeypatch.setattr(where, "Place", other)
    monkeypatch.setitem(MEANS, "odds", "a new key")
    assert reference.json_page() != before


def test_the_version_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--version"]) == 0
    assert capsys.readouterr().out == f"camsign {__version__}\n"


HEAVY = {"cv2", "matplotlib", "pandas", "scipy.stats", "PIL", "rasterio", "shapely", "starlette",
         "pyproj", "uvicorn", "jinja2"}  # fmt: skip


def imported(words: list[str], logbook: Path) -> set[str]:
    """The modules that one command leaves imported, in a process of its own."""
    code = (
        "import sys, io, json\n"
        "from camsign.cli.app import run\n"
        "out, sys.stdout = sys.stdout, io.TextIOWrapper(io.BytesIO())\n"
        "code = run(json.loads(sys.argv[1]))\n"
        "sys.stdout = out\n"
        "print(json.dumps([code, *sys.modules]))\n"
    )
    given = json.dumps(["--logbook", str(logbook), *words])
    done = subprocess.run([sys.executable, "-c", code, given], capture_output=True, check=True)
    code, *modules = json.loads(done.stdout)
    assert code == 0, done.stderr
    return set(modules)


def test_a_command_imports_what_it_needs(tmp_path: Path) -> None:
    book = tmp_path / "book"
    assert run(["init", str(book), "--home", "44.6,-71.2", "--json"]) == 0
    helped = imported(["--help"], book)
    later = {"numpy", "duckdb", "scipy", "filelock", "camsign.logbook.session"}
    assert not helped & (HEAVY | later), helped & (HEAVY | later)
    assert len(helped) < 240
    asked = imported(["visits"], book)
    assert not asked & HEAVY
    assert len(asked) < 560


def test_help_tells_of_each_command_what_it_says_itself() -> None:
    top = get_command(app)
    assert top.list_commands(None) == list(WORDS)
    for word in WORDS:
        assert inspect.cleandoc(help_of(word)) == top.get_command(None, word).help


def test_a_word_that_is_nearly_one_is_offered(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["vists"]) == 2
    assert "nearest: camsign visits (" in capsys.readouterr().err


@pytest.mark.thorough
@pytest.mark.parametrize("words", [("rivals", BENCH), ("bedding", BENCH), ("habit", "propose")])
def test_no_answer_loads_the_library_of_laws(words: tuple[str, ...], tmp_path: Path) -> None:
    """scipy.stats costs more than all the rest of an answer."""
    shutil.copytree(reference.ROOT / "fixtures" / "logbooks" / "quiet-ridge", tmp_path / "book")
    area = next(iter(json.loads(asked(tmp_path / "book", "area", "list"))["rows"]))["area"]
    given = [area if word == BENCH else word for word in words]
    assert "scipy.stats" not in imported(given, tmp_path / "book")


def asked(book: Path, *words: str) -> str:
    done = subprocess.run([sys.executable, "-m", "camsign", "--logbook", str(book), *words,
                           "--json"], capture_output=True, text=True, check=True)  # fmt: skip
    return done.stdout


def test_no_command_reads_its_own_source_to_know_what_a_text_is() -> None:
    """Only a name that is imported for the type checker alone is looked up there."""
    typed._imported.cache_clear()
    assert typed.resolved("str | None", "camsign.cli.visits") == str | None
    assert not typed._imported.cache_info().misses
    assert typed.resolved("Path", "camsign.cli.upkeep").__name__ == "Path"
