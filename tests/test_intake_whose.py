"""Whose card it is: each rule by itself, and what happens when they disagree."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.errors import UsageError
from camsign.flows.intake.evidence import Signature, Witness, is_default_name
from camsign.flows.intake.known import Answer, Hanging, Known
from camsign.flows.intake.whose import Verdict, settle
from camsign.logbook.records import FrameFacts
from camsign.logbook.settings import CameraRule

CAMERAS = ("CAM03", "CAM07", "North Gate")
NAMELESS = ("NO NAME",)


def facts(folder: str = "DCIM/100MEDIA", **more: Any) -> FrameFacts:
    """A picture's row in which only what matters here is filled."""
    more = {"shown": "2025-10-01T06:30:00", "model": "Ridge 4"} | more
    return FrameFacts("0" * 16, "0" * 64, None, f"{folder}/IMG_0001.JPG", 1, "jpeg", **more)


def weighed(
    *pictures: FrameFacts,
    known: Known | None = None,
    rules: tuple[CameraRule, ...] = (),
    names: tuple[str, ...] = NAMELESS,
    known_as: str | None = None,
) -> list[Verdict]:
    """The verdicts on a card with these pictures, in order."""
    known = known or Known(CAMERAS)
    witness = Witness(known, rules, names)
    heard = [witness.hear(p, known_as) for p in pictures]
    verdicts = settle(heard, known)
    return [verdicts[s] for s in heard]


def one(*pictures: FrameFacts, **more: Any) -> tuple[str | None, str]:
    (verdict,) = set(weighed(*pictures, **more))
    return verdict.camera, verdict.why


@pytest.mark.parametrize(
    ("about", "words"),
    [
        ({"owner": "cam03"}, "the owner names CAM03"),
        ({"comment": "CAM03 41F 30.1in"}, "the comment names CAM03"),
        ({"description": "unit North  gate"}, "the description names North Gate"),
    ],
)
def test_a_known_id_in_the_metadata(about: dict[str, str], words: str) -> None:
    camera, why = one(facts(**about))
    assert why == words and camera is not None and camera in words


@pytest.mark.parametrize("name", ["CAM03", "cam03", "CAM03 spring", "2025_cam03", "North_Gate"])
def test_a_folder_or_label_that_names_a_known_camera(name: str) -> None:
    camera, why = one(facts(), names=("dumps", name))
    assert camera in ("CAM03", "North Gate") and name in why


def test_the_nearest_folder_counts() -> None:
    assert one(facts(), names=("CAM07 and others", "CAM03", "2025"))[0] == "CAM03"
    assert one(facts("DCIM/CAM07/100MEDIA"), names=("CAM03",))[0] == "CAM07"


def test_the_longer_of_two_ids_is_meant() -> None:
    assert one(facts(), known=Known(("North", "North Gate")), names=("north gate 2",)) == (
        "North Gate",
        "the folder or card is called north gate 2",
    )


@pytest.mark.parametrize("name", ["CAM031", "XCAM03", "CAM03CAM07", "CAM03 or CAM07", "NO NAME"])
def test_a_folder_that_only_resembles_one_names_nothing(name: str) -> None:
    camera, why = one(facts(), names=(name,))
    assert camera is None and why == "nothing on it names a camera you have"


@pytest.mark.parametrize(
    "name",
    ["100MEDIA", "101_PANA", "NO NAME", "SD_CARD", "sdcard2", "UNTITLED", "1A2B-3C4D", "DCIM"],
)
def test_names_that_systems_give_never_name_a_camera(name: str) -> None:
    assert is_default_name(name)
    assert one(facts(), known=Known((name,)), names=(name,))[0] is None


@given(st.text(max_size=20), st.text(max_size=20), st.text(max_size=20))
def test_any_words_are_weighed(comment: str, serial: str, name: str) -> None:
    (found,) = weighed(facts(comment=comment, serial=serial), names=(name,))
    assert found.why and found.camera in (None, *CAMERAS)


def known_serials(**owners: tuple[str, ...]) -> Known:
    return Known(CAMERAS, {s: frozenset(c) for s, c in owners.items()})


def test_a_serial_number_that_a_camera_owns() -> None:
    assert one(facts(serial="H77"), known=known_serials(H77=("CAM07",))) == (
        "CAM07",
        "serial H77 is CAM07's",
    )


def test_a_serial_number_of_two_cameras_settles_nothing_alone() -> None:
    known = known_serials(X0=("CAM03", "CAM07"))  # firmware that gives all the same number
    camera, why = one(facts(serial="X0"), known=known)
    assert camera is None and why.startswith("it may be CAM03 or CAM07")
    assert one(facts(serial="X0"), known=known, names=("CAM07",))[0] == "CAM07"
    assert one(facts(serial="X0"), known=known, names=("North Gate",))[0] is None


@pytest.mark.parametrize(
    ("field", "pattern", "about"),
    [
        ("comment", "unit (N[0-9]+)", {"comment": "unit N12 full moon"}),
        ("description", "N[0-9]+", {"description": "N12"}),
        ("owner", "(N[0-9]+)$", {"owner": "camp N12"}),
        ("serial", "^SN-(N12)", {"serial": "SN-N12"}),
        ("model", "(N12)", {"model": "Ridge N12"}),
    ],
)
def test_a_rule_names_the_camera_even_a_new_one(
    field: str, pattern: str, about: dict[str, str]
) -> None:
    camera, why = one(facts(**about), rules=(CameraRule(field, pattern),))
    assert (camera, why) == ("N12", f"the {field} says N12, by your rule")


def test_a_rule_spells_a_camera_as_the_logbook_does() -> None:
    rules = (CameraRule("comment", "(cam[0-9]+)"),)
    assert one(facts(comment="cam03"), rules=rules)[0] == "CAM03"


@pytest.mark.parametrize(("field", "pattern"), [("colour", "(x)"), ("comment", "(x")])
def test_a_rule_that_cannot_be_used_says_so(field: str, pattern: str) -> None:
    with pytest.raises(UsageError, match=r"logbook.toml"):
        weighed(facts(), rules=(CameraRule(field, pattern),))


def hanging(*spans: tuple[str, str, str], **models: tuple[str, ...]) -> Known:
    return Known(
        CAMERAS,
        models={c: frozenset(m) for c, m in models.items()},
        hanging=tuple(Hanging(*s) for s in spans),
    )


THREE = ("CAM03", "2025-08-01T12:00:00", "")
SEVEN = ("CAM07", "2025-08-01T12:00:00", "")


def test_the_only_camera_of_a_model_that_hangs() -> None:
    known = hanging(THREE, SEVEN, CAM03=("Ridge 4",), CAM07=("Valley",))
    assert one(facts(), known=known) == ("CAM03", "CAM03 is the only Ridge 4 that hangs")
    # something better was said
    assert one(facts(), known=known, names=("CAM07",))[0] == "CAM07"


@pytest.mark.parametrize("others", [{"CAM07": ("Ridge 4",)}, {}])
def test_a_model_that_another_may_share_is_no_evidence(others: dict[str, tuple[str, ...]]) -> None:
    assert one(facts(), known=hanging(THREE, SEVEN, CAM03=("Ridge 4",), **others))[0] is None


def test_a_camera_taken_down_before_is_not_meant() -> None:
    gone = ("CAM03", "2025-08-01T12:00:00", "2025-08-20T12:00:00")
    assert one(facts(), known=hanging(gone, CAM03=("Ridge 4",)))[0] is None
    assert one(facts(shown=None), known=hanging(gone, CAM03=("Ridge 4",)))[0] is None
    day_before = facts(shown="2025-07-31T08:00:00")  # a clock may be a little wrong
    assert one(day_before, known=hanging(gone, CAM03=("Ridge 4",)))[0] == "CAM03"


# What contradicts itself.


def test_pictures_against_their_folder() -> None:
    (verdict,) = weighed(facts(comment="CAM07"), names=("CAM03",))
    assert verdict.camera is None and verdict.conflict
    assert verdict.why == (
        "it contradicts itself: the comment names CAM07; the folder or card is called CAM03"
    )


def test_what_was_answered_is_answered_for_the_same_evidence_only() -> None:
    picture = facts(comment="CAM07", serial="Q5")
    signature = Witness(Known(CAMERAS), (), ("CAM03",)).hear(picture, None)
    known = Known(CAMERAS, answers=(Answer(signature.key, "CAM07", "abc"),))
    assert one(picture, known=known, names=("CAM03",)) == ("CAM07", "as you said of card abc")
    assert one(picture, known=known, names=("North Gate",))[0] is None
    other = facts(comment="CAM07", serial="Q6")
    assert one(other, known=known, names=("CAM03",))[0] is None


def test_a_key_does_not_change_with_whose_the_serial_number_is() -> None:
    before = Witness(Known(CAMERAS), (), ("CAM03",)).hear(facts(serial="Q5"), None)
    owned = known_serials(Q5=("CAM07",))
    assert Witness(owned, (), ("CAM03",)).hear(facts(serial="Q5"), None).key == before.key


def test_two_bodies_under_one_name() -> None:
    both = weighed(facts(serial="S3"), facts("DCIM/101MEDIA", serial="S7"), names=("CAM03",))
    assert all(v.camera is None and "two bodies (serials S3 and S7)" in v.why for v in both)
    known = known_serials(S3=("CAM03",))
    old, new = weighed(facts(serial="S3"), facts(serial="S7"), known=known, names=("CAM03",))
    assert old.camera == "CAM03" and new.camera is None and new.conflict
    replaced = known_serials(S3=("CAM03",), S7=("CAM03",))  # the unit was replaced, and said so
    pair = weighed(facts(serial="S3"), facts(serial="S7"), known=replaced, names=("CAM03",))
    assert {v.camera for v in pair} == {"CAM03"}


def test_two_cameras_on_one_card() -> None:
    known = known_serials(S3=("CAM03",), S7=("CAM07",))
    verdicts = weighed(facts(serial="S3"), facts(serial="S7"), known=known)
    assert [v.camera for v in verdicts] == ["CAM03", "CAM07"]


def test_pictures_that_say_nothing_follow_the_rest_of_the_card() -> None:
    known = known_serials(S3=("CAM03",), S7=("CAM07",))
    bare = facts("DCIM/101MEDIA", model=None)
    _, verdict = weighed(facts(serial="S3"), bare, known=known)
    assert verdict == Verdict("CAM03", "the rest of the card is CAM03's")
    *_, lost = weighed(facts(serial="S3"), facts(serial="S7"), bare, known=known)
    assert lost.camera is None  # the rest is two cameras'
    _, phone = weighed(facts(serial="S3"), facts("Phone", model="Pocket"), known=known)
    assert phone.camera is None


def test_pictures_that_the_logbook_holds_say_whose_they_are() -> None:
    assert one(facts(comment="CAM07"), known_as="CAM03", names=("CAM07",))[0] == "CAM03"
    known, witness = Known(CAMERAS), Witness(Known(CAMERAS), (), ("CAM07",))
    heard = [witness.hear(facts(), "CAM03"), witness.hear(facts(), None)]
    old, new = settle(heard, known).values()
    assert old.camera == "CAM03" and new.conflict and "others on it" in new.why


def test_an_answer_settles_what_it_is_about() -> None:
    witness = Witness(Known(CAMERAS), (), NAMELESS)
    one_folder = witness.hear(facts(), None)
    other = witness.hear(facts("DCIM/101MEDIA"), None)
    verdicts = settle([one_folder, other], Known(CAMERAS), {one_folder: "CAM03"})
    assert [v.camera for v in verdicts.values()] == ["CAM03", "CAM03"]
    assert isinstance(one_folder, Signature) and one_folder.place == "DCIM/100MEDIA"
