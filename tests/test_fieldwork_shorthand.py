"""The written shorthand of waypoints, word by word."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.errors import CamsignError, UsageError
from camsign.flows.fieldwork.shorthand import (
    Draft,
    Shorthand,
    SpotDraft,
)
from camsign.flows.fieldwork.signwords import SignDraft
from camsign.logbook.settings import Settings
from camsign.sign.heading import SaidHeading
from camsign.units import Bearing

IMPERIAL = Settings(id="x", tz="UTC")
METRIC = Settings(id="x", tz="UTC", units="metric")
INCH = 0.0254


def read(name: str, text: str = "", settings: Settings = IMPERIAL) -> Draft | None:
    return Shorthand(settings).read(name, text)


def sign(name: str, text: str = "", settings: Settings = IMPERIAL) -> SignDraft:
    draft = read(name, text, settings)
    assert isinstance(draft, SignDraft)
    return draft


def test_a_rub_in_one_breath() -> None:
    assert sign("rub alder 2in top 38in fresh S") == SignDraft(
        "rub",
        "alder",
        "fresh",
        SaidHeading(Bearing(180.0)),
        {"diameter_m": 2 * INCH, "top_m": 38 * INCH},
    )


@pytest.mark.parametrize(
    ("name", "text", "kind", "state"),
    [
        ("scrape active", "", "scrape", "fresh"),
        ("old rub", "", "rub", "old"),
        ("Rub 12", "", "rub", None),
        ("RUB012", "", "rub", None),
        ("rub-7", "grey", "rub", "old"),
        ("0042", "scrape", "scrape", None),
        ("Buck bed", "", "bed", None),
        ("shed antler", "", "shed", None),
        ("tracks", "", "track", None),
    ],
)
def test_kinds_and_looks(name: str, text: str, kind: str, state: str | None) -> None:
    assert (sign(name, text).kind, sign(name, text).state) == (kind, state)


@pytest.mark.parametrize(
    ("text", "heading"),
    [
        ("rub NE", SaidHeading(Bearing(45.0))),
        ("rub bare SW", SaidHeading(Bearing(225.0), bare=True)),
        ("rub bare side 225T", SaidHeading(Bearing(225.0, "true"), bare=True)),
        ("rub going south", SaidHeading(Bearing(180.0))),
        ("rub 120M", SaidHeading(Bearing(120.0, "magnetic"))),
        ("rub 45°", SaidHeading(Bearing(45.0))),
        ("rub nnw", SaidHeading(Bearing(337.5))),
        ("rub S of the creek", None),
        ("rub on the south side", SaidHeading(Bearing(180.0), bare=True)),
        ("rub from N", SaidHeading(Bearing(180.0))),
        ("rub facing 120M", SaidHeading(Bearing(120.0, "magnetic"), bare=True)),
        ("rub close to 12 others", None),
        ("rub 1 to 3 more", None),
        ("rub 45", None),  # a label, as receivers give them
    ],
)
def test_which_way(text: str, heading: SaidHeading | None) -> None:
    assert sign(text).heading == heading


def inches(**values: float) -> dict[str, object]:
    return {f"{name}_m": round(value * INCH, 6) for name, value in values.items()}


@pytest.mark.parametrize(
    ("text", "measures"),
    [
        ("rub 2in", inches(diameter=2)),
        ("rub 2 in thick 40in high", inches(diameter=2, top=40)),
        ("rub top 38 bottom 12 snow 8", inches(top=38, bottom=12, snow=8)),
        ("rub top 3'2\"", inches(top=38)),
        ("rub far marks 12in tine 50in", inches(far_marks=12, tine=50)),
        ("rub shaved nicks punctures", {"damage": ["shaved"], "marks": ["nicks", "punctures"]}),
        ("scrape 2x3ft branch 5ft", inches(length=36, width=24, branch=60)),
        ("bed 40x24in", inches(length=40, width=24)),
        ("bed aspect S hair", {"aspect_deg": 180.0, "hair": True}),
    ],
)  # fmt: skip
def test_measures(text: str, measures: dict[str, object]) -> None:
    found = sign(text).measures
    assert {k: round(v, 6) if isinstance(v, float) else v for k, v in found.items()} == measures


def test_units_by_setting() -> None:
    assert sign("rub top 96", "", METRIC).measures == {"top_m": 0.96}
    assert sign("scrape 60x90", "", METRIC).measures == {"length_m": 0.9, "width_m": 0.6}


def test_the_words_of_a_name_and_a_description_belong_together() -> None:
    draft = sign("Rub 12", "black cherry, 2 in; seen 2025-10-04 by the old gate (bare SW).")
    assert (draft.species, draft.seen_on) == ("black cherry", date(2025, 10, 4))
    assert draft.heading == SaidHeading(Bearing(225.0), bare=True)
    # `old` is a word for a rub's look, and no reader can know that it speaks of the gate.
    assert draft.state == "old"
    assert draft.unknown == ("seen", "by", "gate")


def test_cameras_places_areas() -> None:
    assert read("cam CAM07") == SpotDraft("camera", "CAM07")
    assert read("CAM07") == SpotDraft("camera", "CAM07")
    assert read("camera ridge facing NE") == SpotDraft("camera", "ridge", Bearing(45.0))
    assert Shorthand(IMPERIAL, ["RIDGE"]).read("Ridge") == SpotDraft("camera", "Ridge")
    assert read("stand north oak") == SpotDraft("stand", "north oak")
    assert read("North oak stand") == SpotDraft("stand", "North oak")
    assert read("Way in brook") == SpotDraft("way in", "brook")
    assert read("parking") == SpotDraft("parking", "parking")
    assert read("truck") == SpotDraft("parking", "truck")
    assert read("Parked truck") == SpotDraft("parking", "Parked truck")
    assert read("parked gate 4") == SpotDraft("parking", "parked gate 4")
    assert read("bedding spruce knob 60yd") == SpotDraft("bedding", "spruce knob", radius_m=54.864)
    assert read("staging", "apple flat") == SpotDraft("staging", "apple flat")
    with pytest.raises(UsageError, match="without its ID"):
        read("cam")


@pytest.mark.parametrize("name", ["", "001", "camp", "Home", "lunch rock", "trucking", "рубка"])
def test_what_names_no_kind_is_not_guessed_at(name: str) -> None:
    assert read(name) is None


# fmt: off
_WORDS = st.sampled_from([
    "rub", "scrape", "bed", "cam", "CAM07", "stand", "bedding", "2in", "top", "38in", "38", "fresh",
    "old", "S", "NE", "bare", "going", "120M", "x", "2x3", "aspect", "hair", "of", "the", "way",
    "2025-10-04", "2025-13-40", "alder", "red", "facing", "radius", "60yd", "'", '"', "#", "-",
    "in",
])
# fmt: on


@given(st.lists(_WORDS, max_size=10), st.lists(_WORDS, max_size=10), st.text(max_size=20))
def test_no_words_end_in_anything_but_a_draft_or_a_clear_line(
    name: list[str], text: list[str], other: str
) -> None:
    try:
        read(" ".join(name), f"{' '.join(text)} {other}")
    except CamsignError as e:
        assert "\n" not in str(e)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("doe beds x4", ""), ("Doe bed", ""), ("beds doe", ""), ("family group beds", ""),
        ("doe and fawn beds", ""), ("bed", "family group"), ("3 does' beds", ""), ("bed", "doe"),
        ("doe bed pine knob", ""),
    ],
)  # fmt: skip
def test_a_bed_said_to_be_a_does_is_kept_as_hers(name: str, text: str) -> None:
    draft = sign(name, text)
    assert (draft.kind, draft.bed_of) == ("bed", "doe")


@pytest.mark.parametrize(
    "name", ["bed", "buck bed", "bed above doe beds", "bed by doe trail", "buck bed, does around"]
)
def test_a_bed_that_is_no_does_is_not_made_one(name: str) -> None:
    assert sign(name).bed_of is None
