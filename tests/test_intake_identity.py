"""Whose card it is, from the card to the receipt: rules, questions, answers, two cameras."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import made_cards as made
import pytest
from PIL import Image

from camsign.derive.opening import open_logbook
from camsign.errors import REFUSED, InputRefused, UsageError
from camsign.flows.intake import Question, ingest
from camsign.logbook import receipts
from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder


@pytest.fixture
def book(tmp_path: Path) -> Folder:
    return made.logbook(tmp_path / "book", "CAM03", "CAM07", "North Gate")


def say(book: Folder, *edits: SetFields) -> None:
    with open_logbook(book) as session:
        session.say("said", edits)


def hang(book: Folder, camera: str, since: str = "2025-08-01T12:00:00Z", until: str | None = None):
    fields = {"camera": camera, "lat": 40.0, "lon": -75.0, "hung": since, "taken_down": until}
    say(book, SetFields("deployment", f"d-{camera.lower()}", fields))


def rule(book: Folder, field: str, pattern: str) -> Folder:
    path = book.root / "logbook.toml"
    text = path.read_text(encoding="utf-8")
    text += f"\n[[camera_id]]\nfield = '{field}'\npattern = '{pattern}'\n"
    path.write_text(text, encoding="utf-8")
    return Folder(book.root)


def only(result):
    (card,) = result.cards
    return card.camera, card.known_by


def test_a_card_that_names_no_camera_is_not_copied(book: Folder, tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="nothing on it names a camera") as caught:
        ingest(book, [made.card(tmp_path / "NO NAME", 2)])
    assert caught.value.exit_code == REFUSED
    assert "camsign ingest" in caught.value.remedy and "--camera ID" in caught.value.remedy
    assert not list(book.cards.iterdir())


def test_what_was_refused_after_it_was_read_leaves_nothing_to_be_told_of_later(
    book: Folder, tmp_path: Path
) -> None:
    notes = tmp_path / "NO NAME"
    notes.mkdir()
    Image.new("RGB", (40, 30)).save(notes / "ground.tif")
    for name in ("areas.geojson", "handheld.gpx", "sign.csv", "sign.gpx", "tags.csv"):
        (notes / name).write_text("no picture", encoding="utf-8")  # those that are looked at first
    with pytest.raises(InputRefused, match="can't tell which camera"):
        ingest(book, [notes])
    assert not list(book.cards.iterdir())
    assert ingest(book, [made.card(tmp_path / "CAM03", 3)]).warnings == ()


@pytest.mark.thorough
def test_a_serial_number_once_seen_is_known(book: Folder, tmp_path: Path) -> None:
    ingest(book, [made.card(tmp_path / "a", 2, serial="H77")], camera="CAM07")
    camera, why = only(ingest(book, [made.card(tmp_path / "b", 2, first=9, serial="H77")]))
    assert camera == "CAM07" and why == "serial H77 is CAM07's"


@pytest.mark.thorough
def test_a_serial_number_that_somebody_told(book: Folder, tmp_path: Path) -> None:
    say(book, SetFields("camera", "CAM03", {"serials": ["A1", "A2"]}))
    assert only(ingest(book, [made.card(tmp_path / "x", 2, serial="A2")]))[0] == "CAM03"


@pytest.mark.thorough
def test_a_corrected_card_takes_its_serial_number_along(book: Folder, tmp_path: Path) -> None:
    first = ingest(book, [made.card(tmp_path / "a", 2, serial="H77")], camera="CAM07")
    say(book, SetFields("card", first.cards[0].card, {"camera": "CAM03"}))
    assert only(ingest(book, [made.card(tmp_path / "b", 2, first=9, serial="H77")]))[0] == "CAM03"


def test_a_rule_of_the_logbook_names_the_camera_even_a_new_one(
    book: Folder, tmp_path: Path
) -> None:
    book = rule(book, "comment", "unit (N[0-9]+)")
    camera, why = only(ingest(book, [made.card(tmp_path / "x", 2, comment=b"unit N12 full moon")]))
    assert camera == "N12" and why == "the comment says N12, by your rule"


@pytest.mark.thorough
def test_the_only_camera_of_a_model_that_hangs(book: Folder, tmp_path: Path) -> None:
    say(
        book,
        SetFields("camera", "CAM03", {"model": "Ridge 4"}),
        SetFields("camera", "CAM07", {"model": "Valley"}),
    )
    hang(book, "CAM03")
    hang(book, "CAM07")
    camera, why = only(ingest(book, [made.card(tmp_path / "x", 2, model="Ridge 4")]))
    assert camera == "CAM03" and why == "CAM03 is the only Ridge 4 that hangs"


# What contradicts itself.


@pytest.mark.thorough
def test_pictures_against_their_folder_are_asked_about(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 2, comment=b"CAM07")
    with pytest.raises(InputRefused, match="contradicts itself") as caught:
        ingest(book, [card])
    assert caught.value.remedy.endswith("--camera CAM03 or CAM07")
    asked: list[Question] = []

    def ask(question: Question) -> str:
        asked.append(question)
        return "cam07"

    assert only(ingest(book, [card], ask=ask)) == ("CAM07", "said when asked")
    (question,) = asked
    assert question.conflict and question.candidates == ("CAM03", "CAM07")
    assert question.picture == card / "DCIM/100MEDIA/IMG_0001.JPG"
    assert question.facts.shown == "2025-10-01T06:30:00"


def test_an_answer_given_once_is_remembered(book: Folder, tmp_path: Path) -> None:
    about = {"comment": b"CAM07", "serial": "Q5"}
    first = ingest(book, [made.card(tmp_path / "a" / "CAM03", 2, **about)], ask=lambda _: "CAM07")
    again = made.card(tmp_path / "b" / "CAM03", 2, first=20, **about)
    camera, why = only(ingest(book, [again]))
    assert camera == "CAM07" and why == f"as you said of card {first.cards[0].card}"


@pytest.mark.thorough
def test_a_remembered_answer_follows_a_correction(book: Folder, tmp_path: Path) -> None:
    about = {"comment": b"CAM07"}
    first = ingest(book, [made.card(tmp_path / "a" / "CAM03", 2, **about)], camera="CAM03")
    say(book, SetFields("card", first.cards[0].card, {"camera": "CAM07"}))
    again = made.card(tmp_path / "b" / "CAM03", 2, first=20, **about)
    assert only(ingest(book, [again]))[0] == "CAM07"


@pytest.mark.thorough
def test_an_answer_about_a_card_that_says_nothing_is_not_spread_to_others(
    book: Folder, tmp_path: Path
) -> None:
    ingest(book, [made.card(tmp_path / "a", 2)], camera="CAM03")
    with pytest.raises(InputRefused):
        ingest(book, [made.card(tmp_path / "b", 2, first=20)])


def test_no_answer_takes_nothing_in(book: Folder, tmp_path: Path) -> None:
    with pytest.raises(InputRefused):
        ingest(book, [made.card(tmp_path / "x", 2)], ask=lambda _: None)
    assert not list(book.cards.iterdir())


def test_a_named_camera_decides_and_hears_what_spoke_against_it(
    book: Folder, tmp_path: Path
) -> None:
    result = ingest(book, [made.card(tmp_path / "CAM03", 2)], camera="cam07")
    assert only(result) == ("CAM07", "said with --camera")
    assert result.warnings == (
        "taken as CAM07 because you said so, although the folder or card is called CAM03",
    )


def test_a_camera_that_is_not_known_against_a_card_that_names_one_is_a_slip(
    book: Folder, tmp_path: Path
) -> None:
    card = made.card(tmp_path / "CAM03", 2)
    with pytest.raises(InputRefused) as caught:
        ingest(book, [card], camera="CAM3")
    assert (
        "you said CAM3, which this logbook doesn't have, but the folder or card is called"
        in str(caught.value)
    )
    assert "say --camera CAM03" in caught.value.remedy and not list(book.cards.iterdir())
    assert only(ingest(book, [made.card(tmp_path / "x", 2, first=9)], camera="CAM3"))[0] == "CAM3"


def test_pictures_that_are_in_already_are_not_said_to_be_taken_as_anothers(
    book: Folder, tmp_path: Path
) -> None:
    card = made.card(tmp_path / "CAM03", 2)
    ingest(book, [card])
    again = ingest(book, [card], camera="CAM07")
    (one,) = again.cards
    # The table gave the pictures to the camera that was said, which has none.
    assert [(c.camera, c.new, c.known) for c in again.by_camera] == [("CAM03", 0, 2)]
    assert again.warnings == (
        "loaded already, as CAM03: nothing changed; if it really is CAM07's: "
        f"camsign cards set {one.card} --camera CAM07",
    )


@pytest.mark.thorough
def test_a_card_with_two_cameras_becomes_two_cards(book: Folder, tmp_path: Path) -> None:
    say(
        book,
        SetFields("camera", "CAM03", {"serials": ["S3"]}),
        SetFields("camera", "CAM07", {"serials": ["S7"]}),
    )
    card = made.card(tmp_path / "x", 3, serial="S3")
    made.fill(card, made.frames(2, 30, "DCIM/101MEDIA", serial="S7"))
    result = ingest(book, [card])
    assert [(c.camera, c.frames, c.new) for c in result.cards] == [("CAM03", 3, 3), ("CAM07", 2, 2)]
    assert result.safe_to_wipe and len({c.card for c in result.cards}) == 2
    again = ingest(book, [card])
    assert [(c.camera, c.new) for c in again.cards] == [("CAM03", 0), ("CAM07", 0)]
    alone = made.logbook(tmp_path / "other", "CAM03")
    half = made.card(tmp_path / "y", 3, serial="S3")
    assert ingest(alone, [half], camera="CAM03").cards[0].card == result.cards[0].card


@pytest.mark.thorough
def test_the_unknown_half_of_a_card_waits_and_is_not_copied_twice(
    book: Folder, tmp_path: Path
) -> None:
    say(book, SetFields("camera", "CAM03", {"serials": ["S3"]}))
    card = made.card(tmp_path / "x", 3, serial="S3")
    made.fill(card, made.frames(2, 30, "DCIM/101MEDIA", serial="S7"))
    result = ingest(book, [card])
    assert [(c.camera, c.new) for c in result.cards] == [("CAM03", 3)]
    assert not result.safe_to_wipe and "--camera" in result.refused[0].why
    waiting = {p.stat().st_ino for p in book.cards.glob(".incoming-*/files/**/*.JPG")}
    assert len(waiting) == 2
    result = ingest(book, [card], ask=lambda q: "CAM07")
    assert [(c.camera, c.new) for c in result.cards] == [("CAM03", 0), ("CAM07", 2)]
    assert result.safe_to_wipe
    assert waiting <= {p.stat().st_ino for p in book.cards.rglob("*.JPG")}


@pytest.mark.thorough
def test_two_bodies_under_one_name_are_asked_about(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 3, serial="S3")
    made.fill(card, made.frames(2, 30, "DCIM/101MEDIA", serial="S7"))
    with pytest.raises(InputRefused, match="two bodies"):
        ingest(book, [card])
    answers = {"S3": "CAM03", "S7": "CAM07"}
    result = ingest(book, [card], ask=lambda q: answers[q.facts.serial])
    assert [(c.camera, c.frames) for c in result.cards] == [("CAM03", 3), ("CAM07", 2)]


@pytest.mark.thorough
def test_known_pictures_say_whose_the_new_ones_are(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "x", 3)
    ingest(book, [card], camera="CAM03")
    made.fill(card, made.frames(2, 60, "DCIM/101MEDIA"))
    assert only(ingest(book, [card]))[0] == "CAM03"


@pytest.mark.thorough
def test_known_pictures_against_the_folder_are_asked_about(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "x", 3)
    ingest(book, [card], camera="CAM03")
    moved = card.rename(tmp_path / "CAM07")
    made.fill(moved, made.frames(2, 60, "DCIM/101MEDIA"))
    result = ingest(book, [moved])
    assert (result.new, result.safe_to_wipe) == (0, False)
    assert "contradicts itself" in result.refused[0].why


@pytest.mark.thorough
def test_the_receipt_explains(book: Folder, tmp_path: Path) -> None:
    say(book, SetFields("camera", "CAM03", {"serials": ["S3"]}))
    result = ingest(book, [made.card(tmp_path / "CAM03", 2, serial="S3", comment=b"CAM03 fine")])
    receipt = receipts.read(book.cards / result.cards[0].folder / receipts.FILE)
    (group,) = receipt.more["evidence"]
    assert group["says"] == [
        "serial S3 is CAM03's",
        "the comment names CAM03",
        "the folder or card is called CAM03",
    ]
    assert (group["pictures"], receipt.serials, receipt.models) == (2, ("S3",), ("Ridge 4",))
    taken = datetime.fromisoformat(receipt.taken_in)
    assert abs((datetime.now(UTC) - taken).total_seconds()) < 600


@pytest.mark.thorough
def test_two_people_take_in_the_same_card(tmp_path: Path) -> None:
    card = made.card(tmp_path / "x", 4)
    books = [made.logbook(tmp_path / n, "CAM03") for n in ("mine", "yours")]
    ingest(books[1], [made.fill(tmp_path / "part", made.frames(2))], camera="CAM03")
    ids, frames = [], []
    for book in books:
        ids.append(ingest(book, [card], camera="CAM03").cards[0].card)
        with open_logbook(book) as session:
            rows = session.con.execute("SELECT frame FROM card_files WHERE card = ?", [ids[-1]])
            frames.append(sorted(rows.fetchall()))
    assert ids[0] == ids[1] and frames[0] == frames[1] and len(frames[0]) == 4


@pytest.mark.thorough
def test_a_radio_cameras_name_in_the_file_says_whose_it_is(book: Folder, tmp_path: Path) -> None:
    files = {
        "CAM03_20251104_064512.jpg": made.jpeg(1, b""),
        "CAM07-2025-11-04-16-31-05.jpg": made.jpeg(2, b""),
    }
    result = ingest(book, [made.fill(tmp_path / "sent", files)])
    assert sorted(c.camera for c in result.cards) == ["CAM03", "CAM07"] and result.safe_to_wipe


def test_a_named_camera_against_the_files_own_name_is_refused(book: Folder, tmp_path: Path) -> None:
    files = {f"IMG_{i:04d}.JPG": made.jpeg(i) for i in range(9)}
    for n, name in enumerate(("AA.JPG", "IMG_0004_CAM07.JPG")):  # seen at once, and only at the end
        card = made.fill(tmp_path / str(n) / "sent", files | {name: made.jpeg(50 + n)})
        if n == 0:
            (card / name).rename(card / "CAM07_1.JPG")
        with pytest.raises(
            InputRefused, match=r"you said CAM03, but the name of .*CAM07"
        ) as caught:
            ingest(book, [card], camera="CAM03")
        assert "\n" not in str(caught.value) and "leave --camera out" in str(caught.value)
        assert not list(book.cards.rglob("receipt.json"))


def test_a_rule_may_read_the_files_name(book: Folder, tmp_path: Path) -> None:
    from camsign.flows.intake.evidence import Witness
    from camsign.flows.intake.known import Known
    from camsign.flows.intake.whose import settle
    from camsign.logbook.records import FrameFacts
    from camsign.logbook.settings import CameraRule

    witness = Witness(Known(cameras=("CAM03",)), [CameraRule("name", r"^u([0-9]+)_")], ())
    facts = FrameFacts("0" * 16, "0" * 64, None, "DCIM/u12_0001.JPG", 1, "jpeg")
    signature = witness.hear(facts, None)
    assert settle([signature], Known())[signature].camera == "12"
    with pytest.raises(UsageError, match="repeats"):
        Witness(Known(), [CameraRule("name", "(a+)+b")], ())


@pytest.mark.parametrize("camera", ["1", "0001", "IMG", "DSCF"])
def test_a_camera_called_as_files_are_is_not_read_from_their_names(camera: str) -> None:
    from camsign.flows.intake.evidence import Witness
    from camsign.flows.intake.known import Known
    from camsign.logbook.records import FrameFacts

    facts = FrameFacts("0" * 16, "0" * 64, None, f"DCIM/{camera}_0001.JPG", 1, "jpeg")
    assert Witness(Known(cameras=(camera,)), [], ()).hear(facts, None).evidence == ()
