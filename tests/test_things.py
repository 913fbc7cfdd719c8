"""The table of things: what it says people may say is what the rooms take, and reads as typed."""

from __future__ import annotations

import inspect
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.errors import UsageError
from camsign.logbook import things
from camsign.logbook.fields import read
from camsign.logbook.folder import create
from camsign.logbook.settings import Settings
from camsign.page.things import _RUN as RUN
from camsign.page.things import forms

VERBS = [(thing, verb) for thing, verbs in RUN.items() for verb in verbs]


@pytest.fixture
def imperial(tmp_path: Path) -> Settings:
    return create(tmp_path / "b", "America/New_York", (44.2, -71.4), "imperial").settings


@pytest.mark.parametrize(("thing", "name"), VERBS)
def test_a_room_takes_what_the_table_says(thing: str, name: str) -> None:
    takes, verb = inspect.signature(RUN[thing][name]), things.THINGS[thing].verb(name)
    takes.bind("session", **dict.fromkeys(verb.fields))
    needed = [field for field, is_needed in verb.fields.items() if is_needed]
    takes.bind("session", **dict.fromkeys([*needed, *verb.usual]))


def test_measures_are_typed_on_a_page_as_in_the_terminal(imperial: Settings) -> None:
    sent = {"kind": "rub", "at": "44.2,-71.4", "seen": "2025-11-03"}
    typed = read(things.SIGN, "add", sent | {"measure": "top=38in, diameter=4in"}, imperial)
    assert typed["measures"] == ["top=38in", "diameter=4in"]
    assert read(things.SIGN, "add", sent | {"measure": typed["measures"]}, imperial) == typed
    assert any(f["name"] == "measure" for f in forms()["sign"]["add"]["fields"])


def test_words_become_values(imperial: Settings) -> None:
    sent = {"name": " Knob ", "at": "44.2,-71.4", "radius": "100", "kind": ""}
    said = read(things.AREA, "add", sent, imperial)
    assert said == {
        "name": "Knob", "kind": "bedding", "at": (44.2, -71.4), "radius": pytest.approx(91.44),
    }  # fmt: skip
    aged = {"buck": "Slim", "age": "4.5", "season": "2025", "basis": "jaw"}
    assert read(things.BUCK, "set", aged, imperial) == {
        "buck": "Slim", "age": 4.5, "age_year": 2025, "age_basis": "jaw",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "verb", "sent", "words"),
    [
        (things.AREA, "add", {}, "an area needs a name"),
        (things.AREA, "add", {"name": "x" * 81}, "name has 81 characters; 80 at most"),
        (things.AREA, "add", {"name": ["x"]}, "name is no text"),
        (things.AREA, "add", {"name": "x", "corners": [[["44", 1]]]}, "a corner is no place"),
        (things.BUCK, "set", {"buck": "x", "age": "old"}, "age 'old' is no number"),
        (things.BUCK, "set", {"buck": "x", "season": float("nan")}, "is no number"),
        (things.SIGN, "add", {"kind": "rub", "at": "44,-71"}, "on which day was it seen"),
        (things.PLACE, "add", {"kind": "stand", "name": "x", "at": 7}, "at is no list"),
    ],
)
def test_what_does_not_fit_is_one_line(
    imperial: Settings, kind: Any, verb: str, sent: dict[str, Any], words: str
) -> None:
    with pytest.raises(UsageError, match=words) as refused:
        read(kind, verb, sent, imperial)
    assert "\n" not in str(refused.value)


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=9),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner),
    max_leaves=6,
)


@given(data=st.data())
def test_whatever_is_sent_is_read_or_refused(data: st.DataObject) -> None:
    thing, name = data.draw(st.sampled_from(VERBS))
    kind, settings = things.THINGS[thing], Settings("b", "America/New_York", units="metric")
    sent = {kind.field(one).said: data.draw(JSON) for one in kind.verb(name).fields}
    try:
        said = read(kind, name, sent, settings)
    except UsageError as e:
        assert "\n" not in str(e).strip()
    else:
        assert set(said) <= set(kind.verb(name).fields)


def test_a_form_shows_only_what_has_a_label() -> None:
    hang = forms()["deployment"]["hang"]
    assert [f["name"] for f in hang["fields"]] == [
        "camera", "at", "from", "until", "facing", "clock", "note",
    ]  # fmt: skip
    assert hang["to"] == "/say/deployment/hang"
    # What has a usual word is chosen from: nobody is offered "not sure" of an area's kind.
    kind = next(f for f in forms()["area"]["add"]["fields"] if f["name"] == "kind")
    assert kind["needed"] and kind["choices"][0] == "bedding"
