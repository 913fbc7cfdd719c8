"""What intake says of a card, each rule by itself: companions, whose it is, whether it stopped."""

from __future__ import annotations

import hashlib
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from derive_world import Shot, book, put_card

from camsign.cards.listing import confirm_file_times, find_card, known_in_words, set_camera
from camsign.cards.sums import hold, said
from camsign.derive.opening import open_logbook
from camsign.errors import InputRefused, UsageError, quoted
from camsign.flows.intake import (
    card_files,
    companions,
    dump,
    evidence,
    find_cards,
    incoming,
    since_last_check,
    whose,
)
from camsign.flows.intake.card_files import CardFile
from camsign.flows.intake.evidence import Evidence, Signature, Witness
from camsign.flows.intake.incoming import MAX_PATH, SafeNames, safe_name
from camsign.flows.intake.known import Answer, Hanging, Known
from camsign.flows.intake.one_file import Item
from camsign.flows.intake.other_times import OtherTimes, compiled, from_name
from camsign.flows.intake.result import held_words, words_of
from camsign.flows.intake.since_last_check import SilentSpell, spells
from camsign.flows.intake.whose import Verdict, Whose, settle
from camsign.logbook import placing
from camsign.logbook.records import FrameFacts
from camsign.logbook.settings import CameraRule
from camsign.pixels.scores import Aside

FACTS = FrameFacts("0" * 16, "0" * 64, None, "DCIM/100MEDIA/IMG_0001.JPG", 1, "jpeg")


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("DCIM/100MEDIA/A.JPG", ""), ("thumbs.db", ""),
        ("$RECYCLE.BIN/A.JPG", "in the Windows trash"),
        (".Trash-1000/files/A.JPG", "in a Linux trash folder"), (".Trash-x/A.JPG", ""),
        (".Spotlight-V100/Store/x", "the macOS search index"),
        ("a/@eaDir/b/c", "in a network drive's folder of thumbnails"), ("LOST.DIR/1", ""),
    ],
)  # fmt: skip
def test_folders_of_systems_are_known(path: str, words: str) -> None:
    assert companions.folder(path) == words


def test_files_beside_pictures_are_known() -> None:
    assert companions.file("._IMG_1.JPG") == "macOS notes on another file"
    assert companions.file("THUMBS.DB") == "a Windows thumbnail database"
    assert companions.file("IMG_1.JPG") == ""
    assert companions.index(".fseventsd") == "macOS keeps notes there"
    assert companions.index("DCIM") == ""
    drive = ["a/IMG.JPG", "a/@eaDir/IMG.JPG/SYNO_S.jpg", "a/@eaDir/gone.JPG/S.jpg", "a/@eaDir/x"]
    assert companions.of_others(drive) == {drive[1]: companions.DRIVE_PICTURE}
    names = ["C/A.AVI", "C/A.THM", "C/B.THM", "C/P.HEIC", "C/P.mov", "C/P.aae", "C/Q.mov"]
    assert companions.of_one_name(names) == {
        "C/A.THM": "C/A.AVI", "C/P.mov": "C/P.HEIC", "C/P.aae": "C/P.HEIC"}  # fmt: skip
    live = b"x com.apple.quicktime.content.identifier x"
    assert companions.goes_with("P.MOV", live)
    assert not companions.goes_with("P.MOV", b"x")
    assert companions.goes_with("P.AAE", b"  <?xml")
    assert companions.goes_with("P.AAE", b"bplist00")
    assert not companions.goes_with("P.AAE", b"\xff\xd8")
    assert companions.goes_with("P.THM", b"\xff\xd8")


def test_names_become_safe_and_stay_apart() -> None:
    for name, safe in (
        ("a:b?.JPG", "a_b_.JPG"), ("x. .", "x"), ("...", "_"), ("con.txt", "_con.txt"),
        (".tmp-1", "_.tmp-1"), (".incoming-a", "_.incoming-a"), ("IMG.JPG", "IMG.JPG"),
    ):  # fmt: skip
        assert safe_name(name) == safe
    names = SafeNames()
    assert names.path("D/IMG.JPG") == "D/IMG.JPG"
    assert names.path("d/img.jpg") == "d/img~2.jpg"
    assert names.path("D/IMG.JPG") == "D/IMG~3.JPG"
    assert names.path("D/IMG.JPG/x") == "D/IMG~4.JPG/x"
    assert names.path(".hidden") == ".hidden"
    assert names.path(".HIDDEN") == ".HIDDEN~2"
    edge = "a" * (MAX_PATH - 4)
    assert names.path(f"{edge}.JPG") == f"{edge}.JPG"
    far = names.path(f"{edge}x.JPG")
    assert far.startswith("long/") and far.endswith("a" * 55 + "x.JPG")
    assert len(far) == len("long/") + 13 + 60


def _sign(*said_: tuple[str, str], serial: str = "", model: str = "", place: str = "") -> Signature:
    found = tuple(Evidence(source, tuple(c.split()), f"{source} {c}") for source, c in said_)
    return Signature(found, serial, model, place)


def _settled(*signs: Signature, known: Known | None = None, **said_: str) -> list[Verdict]:
    answers = {s: v for s, v in zip(signs, said_.values(), strict=False) if v}
    found = settle(signs, known or Known(("A", "B")), answers)
    return [found[s] for s in signs]


def test_evidence_must_leave_one_camera() -> None:
    (one,) = _settled(_sign(("owner", "A B"), ("folder", "B C")))
    assert (one.camera, one.why, one.conflict) == ("B", "owner A B; folder B C", False)
    (one,) = _settled(_sign(("owner", "A"), ("folder", "B")))
    assert one == Verdict(None, "it contradicts itself: owner A; folder B", True)
    (one,) = _settled(_sign(("serial", "B A")))
    assert one == Verdict(None, "it may be A or B: serial B A", True)
    (one,) = _settled(_sign())
    assert one == Verdict(None, "nothing on it names a camera you have", False)
    sign = _sign(("serial", "A B"))
    told = Known(("A", "B"), answers=(Answer(sign.key, "B", "k7"),))
    assert _settled(sign, known=told) == [Verdict("B", "as you said of card k7")]
    assert _settled(sign, first="A") == [Verdict("A", "said when asked")]
    assert whose._choice(sign) == "A or B"
    assert whose._choice(_sign()) == "ID"
    assert whose._choice(_sign(("owner", "North"))) == "North"


def test_what_says_nothing_follows_the_rest_of_its_kind() -> None:
    named = _sign(("folder", "A"), serial="1", model="R")
    for sign, camera in (
        (_sign(), "A"), (_sign(serial="1", model="R"), "A"), (_sign(serial="2"), None),
        (_sign(model="S"), None), (_sign(model="R", place="x"), "A"),
    ):  # fmt: skip
        found = _settled(named, sign)[1]
        assert found.camera == camera
        assert found.why == ("the rest of the card is A's" if camera else
                             "nothing on it names a camera you have")  # fmt: skip
    both = _settled(named, _sign(("folder", "B")), _sign())
    assert both[2].camera is None
    two = _settled(_sign(("folder", "A"), serial="1"), _sign(("folder", "A"), serial="2"))
    assert {v.why for v in two} == {"pictures of two bodies (serials 1 and 2) lie under A"}
    owned = _settled(_sign(("serial", "A"), serial="1"), _sign(("folder", "A"), serial="2"))
    assert [v.camera for v in owned] == ["A", None]
    there = _settled(_sign(("logbook", "A")), _sign(("folder", "B")))
    assert there[1].conflict
    assert there[1].why.endswith("others on it are in the logbook as A's")
    sure = _settled(_sign(("logbook", "A")), _sign(("owner", "B")))
    assert [v.camera for v in sure] == ["A", "B"]


def _heard(known: Known, rules: tuple[CameraRule, ...] = (), **facts: Any) -> list[tuple[Any, ...]]:
    witness = Witness(known, rules, ("NO NAME",))
    found = witness.hear(replace(FACTS, **facts), None)
    return [(e.source, e.cameras, e.words) for e in found.evidence]


def test_a_picture_names_its_camera_in_whole_words() -> None:
    known = Known(("CAM1", "CAM1 North", "Gate"), by_serial={"77": {"Gate", "CAM1"}})
    assert _heard(known, serial="77") == [
        ("serial", ("CAM1", "Gate"), "serial 77 is CAM1 or Gate's")
    ]
    assert _heard(known, comment="at cam1_north now") == [
        ("comment", ("CAM1 North",), "the comment names CAM1 North")]  # fmt: skip
    assert _heard(known, comment="gate or cam1") == []
    assert _heard(known, comment="CAM12") == []
    assert _heard(known, card_path="DCIM/Gate/100MEDIA/A.JPG") == [
        ("folder", ("Gate",), "the folder or card is called Gate")]  # fmt: skip
    assert _heard(known, card_path="DCIM/Gate 7.JPG") == [
        ("name", ("Gate",), "the files' own names say Gate")]  # fmt: skip
    rule = CameraRule("comment", "unit (\\w+)")
    assert _heard(known, (rule,), comment="unit gate")[0] == (
        "rule", ("Gate",), "the comment says Gate, by your rule")  # fmt: skip
    whole = CameraRule("name", "G[a-z]+")
    assert _heard(known, (whole,), card_path="D/Gx7.JPG") == [
        ("rule", ("Gx",), "the name says Gx, by your rule")]  # fmt: skip
    for rule, words in (
        (CameraRule("lens", "x"), "the rule for 'lens' in logbook.toml names no field"),
        (CameraRule("comment", "("), "the pattern '(' in logbook.toml cannot be read"),
    ):
        with pytest.raises(UsageError) as e:
            _heard(known, (rule,))
        assert e.value.what.startswith(words)
    assert evidence._tokens("CAM1_North-2 ") == "cam1 north 2"


def test_the_only_one_of_a_model_that_hangs() -> None:
    hanging = (
        Hanging("A", "2025-10-01T00:00:00", "2025-11-01T00:00:00"),
        Hanging("B", "2025-10-01T00:00:00", ""),
    )
    known = Known(("A", "B"), models={"A": {"R"}, "B": {"S"}}, hanging=hanging)
    at = {"shown": "2025-10-05T00:00:00"}
    assert _heard(known, model="R", **at) == [("model", ("A",), "A is the only R that hangs")]
    assert _heard(known, model="T", **at) == []
    assert _heard(known, model="R", shown="2026-10-05T00:00:00") == []
    assert _heard(replace(known, models={"A": {"R"}}), model="R", **at) == []
    assert _heard(replace(known, models={"A": {"R"}, "B": {"R"}}), model="R", **at) == []
    span = hanging[0]
    slack = evidence._CLOCK_SLACK
    start, stop = (datetime.fromisoformat(x) for x in (span.since, span.until))
    for moment, hung in (
        (start - slack, True), (start - slack - timedelta(seconds=1), False),
        (stop + slack, True), (stop + slack + timedelta(seconds=1), False),
    ):  # fmt: skip
        assert evidence._hung(span, moment.isoformat()) is hung
    assert evidence._hung(hanging[1], "") is True
    assert evidence._hung(span, "") is False


DAYS = [date(2025, 10, 1) + timedelta(days=n) for n in range(40)]


def _facts_of(days: list[date], **more: Any) -> dict[str, Any]:
    last = datetime(days[-1].year, days[-1].month, days[-1].day, 16) if days else None
    return {"days": days, "last_utc": last, "taken_down": None, "hangs": False,
            "others_utc": None} | more  # fmt: skip


def _stopped(days: list[date], **more: Any) -> str | None:
    found = since_last_check._stopped(_facts_of(days, **more), "UTC")
    return found[1] if found else None


def test_a_camera_stopped_if_it_was_silent_for_too_long_before_it_was_pulled() -> None:
    """Of 10 days with a picture on each, n silent ones have a chance of B(10.5, n + 0.5) over
    B(10.5, 0.5); it falls below a thousandth behind the fourth."""
    ten = DAYS[:10]
    noon = datetime(2025, 10, 10, 12)

    def down(days: int) -> dict[str, Any]:
        return {"taken_down": noon + timedelta(days=days)}

    assert _stopped(ten) is None
    assert _stopped(ten, **down(4)) is None
    assert _stopped(ten, **down(5)) == "but was taken down on 2025-10-15"
    # Taken down at midnight it hung on the day before last.
    midnight = {"taken_down": datetime(2025, 10, 15)}
    assert _stopped(ten, **midnight) is None
    others = {"hangs": True, "others_utc": noon + timedelta(days=5)}
    assert _stopped(ten, **others) == "while the other cards of these days go on to 2025-10-15"
    assert _stopped(ten, **(others | {"hangs": False})) is None
    assert _stopped([], **down(90)) is None
    assert _stopped(DAYS[:4], taken_down=datetime(2026, 10, 5)) is None
    assert _stopped(DAYS[:5], taken_down=datetime(2026, 10, 5)) is not None
    assert _stopped(ten, taken_down=datetime(2025, 10, 10, 23)) is None


def test_silent_nights_that_follow_one_another_are_one_spell() -> None:
    days = [DAYS[0], DAYS[1], DAYS[3]]
    assert spells(days) == [SilentSpell(DAYS[0], DAYS[1], 2), SilentSpell(DAYS[3], DAYS[3], 1)]


def test_the_next_steps_are_those_that_help() -> None:
    found = {"homeless": 0, "undated": 0, "first_day": None, "untagged": 0, "hung": ["CAM03"]}
    found["cards"] = ["d881c65ea05a"]
    stopped = datetime(2025, 10, 10, 16), "but was taken down"

    def steps(name: str = "CAM1", clock: bool = False, full: bool = False, dead: Any = None,
              **more: Any) -> list[str]:  # fmt: skip
        return list(since_last_check._next(name, found | more, clock, dead, full))

    assert steps() == []
    assert steps(homeless=1) == [
        "1 picture has no place: say where CAM1 hung: camsign hang CAM1 --at LAT,LON --from DAY"
    ]
    assert steps("North Gate", homeless=2, first_day="2025-10-01")[0] == (
        '2 pictures have no place: say where North Gate hung: camsign hang "North Gate" '
        "--at LAT,LON --from 2025-10-01"
    )
    assert steps("CAM3", homeless=2) == [
        "no camera CAM3 is hung here. Did you mean CAM03? Then: camsign cards set d881c65ea05a "
        "--camera CAM03. If CAM3 is a new camera, hang it: camsign hang CAM3 --at LAT,LON "
        "--from DAY"
    ]
    assert "Did you mean" not in steps("CAM04", homeless=2)[0]
    # A picture without a date of a camera that was hung: another spot would not help it.
    none = "for no spot of CAM1"
    assert steps(undated=1) == [f"1 picture has no date, so it counts {none}"]
    assert steps(undated=2) == [f"2 pictures have no date, so they count {none}"]
    assert steps(clock=True) == ["fix its clock: camsign clock audit CAM1 --apply"]
    full = ["its card was full: use a larger one, or come more often"]
    assert steps(full=True) == steps(full=True, dead=stopped) == full
    assert steps(dead=stopped) == [
        "it gave nothing after 2025-10-10, but was taken down: look at its batteries, card and lens"
    ]
    assert steps(untagged=3) == [
        "tag what is in its pictures: camsign frames --camera CAM1 --untagged"
    ]


def test_what_was_set_aside_is_said_in_a_line() -> None:
    one = Aside("CAM1", 10, 8, 3)
    assert words_of([replace(one, scored=0)]) == ""
    assert words_of([replace(one, likely_empty=0)]) == (
        "None of 10 new pictures set aside as likely empty: all are shown"
    )
    assert words_of([one, replace(one, frames=5, likely_empty=1)], "pictures").startswith(
        "4 of 15 pictures set aside as likely empty, none deleted; see them: camsign frames"
    )
    assert held_words([one]) == []
    assert held_words([replace(one, look_first=1)]) == [
        "1 picture looks empty but waits for your check (camsign frames --look-first): CAM1 1"
    ]
    two = [replace(one, look_first=1), replace(one, camera="CAM2", look_first=2)]
    assert held_words(two) == [
        "3 pictures look empty but wait for your check (camsign frames --look-first): CAM1 1, "
        "CAM2 2"
    ]
    # The page counts what looks empty in one place only, by its step 4.
    assert held_words(two, on_page=True) == []
    judged = {"too few to compare": 2, "glare": 1}
    assert held_words([replace(one, cant_judge=judged)]) == [
        "Can't tell if 3 pictures are empty: 2 with too few like them to compare, 1 glare"
    ]
    blind = "CAM1: most pictures show nothing: check its lamp, lens, batteries"
    assert blind not in held_words([replace(one, cant_judge={"glare": 3, "too dark": 2})])
    assert blind in held_words([replace(one, cant_judge={"glare": 3, "too dark": 3})])
    assert (quoted("a b"), quoted("ab")) == ('"a b"', "ab")


def test_whose_a_found_card_is() -> None:
    def told(*verdicts: Verdict) -> tuple[str | None, str]:
        return find_cards._whose(SimpleNamespace(verdicts=dict(enumerate(verdicts))))

    a, none = Verdict("A", "as it says"), Verdict(None, "nothing")
    assert told() == (None, "no picture on it could be read")
    assert told(a, Verdict("A", "also")) == ("A", "as it says")
    assert told(none) == (None, "nothing")
    assert told(none, a) == (None, "pictures of A and an unknown camera are on it")


def test_a_file_of_the_card_that_was_not_named(tmp_path: Path, monkeypatch: Any) -> None:
    for name in ("DCIM/a.jpg", "other/b.jpg", ".Spotlight-V100/x", "thumbs.db"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("")

    def left(*named: str, book_: str = "") -> str:
        return card_files.not_named(tmp_path, [str(tmp_path / n) for n in named], book_)

    assert left("DCIM", "other") == ""
    assert left("DCIM") == "other/b.jpg"
    assert left("DCIM", book_=str(tmp_path / "other")) == ""
    monkeypatch.setattr(card_files, "_LOOKED_AT", 3)
    assert left("DCIM", "other") == "."
    monkeypatch.setattr(card_files, "_LOOKED_AT", 4)
    assert left("DCIM", "other") == ""
    gone = card_files.not_named(tmp_path / "none", [], "")
    assert gone == "."
    assert card_files.holds_dcim(tmp_path)
    assert not card_files.holds_dcim(tmp_path / "other")
    assert not card_files.holds_dcim(tmp_path / "none")


def _named(name: str) -> str | None:
    shown, in_utc = from_name(name, compiled())
    return f"{shown.iso()}{' UTC' if in_utc else ''}" if shown else None


@pytest.mark.parametrize(
    ("name", "read"),
    [
        ("IMG_20251004_063012.jpg", "2025-10-04T06:30:12"),
        ("PXL_20251004_063012.jpg", "2025-10-04T06:30:12 UTC"),
        ("1759559412000.jpg", "2025-10-04T06:30:12 UTC"),
        ("2025-10-04 12.05.00 AM.jpg", "2025-10-04T00:05:00"),
        ("2025-10-04 12.05.00 PM.jpg", "2025-10-04T12:05:00"),
        ("2025-10-04 01.05.00 PM.jpg", "2025-10-04T13:05:00"),
        ("2025-10-04 13.05.00 AM.jpg", None),
        ("2025-10-04 13.05.00 PM.jpg", "2025-10-04T13:05:00"),
        ("20251304_063012.jpg", None), ("IMG_0001.JPG", None),
    ],
)  # fmt: skip
def test_times_in_names(name: str, read: str | None) -> None:
    assert _named(name) == read


def test_a_clip_takes_its_time_from_elsewhere() -> None:
    other = OtherTimes(compiled(), "America/New_York", date(2025, 12, 1))
    clip = replace(FACTS, kind="mp4", card_path="D/a.mp4")

    def filled(**more: Any) -> tuple[Any, ...]:
        row = other.fill(replace(clip, **more))
        return row.shown, row.shown_from, row.offset_minutes, row.doubts

    assert filled() == (None, None, None, ())
    late = filled(card_path="D/PXL_20251204_063012.mp4")
    assert late[:3] == ("2025-12-04T01:30:12", "name", -300)
    assert len(late[3]) == 2
    stamp = filled(file_time="2025-10-04T06:30:12")
    assert stamp[:3] == ("2025-10-04T06:30:12", "file", None)
    assert stamp[3] == (
        "its only time is the file's own stamp, which counts once somebody confirms it",
    )
    words = filled(comment="10/14/2025 06:30:12 AM")
    assert words[1:] == ("comment", None, ("its time is only in its comment",))
    picture = other.fill(replace(FACTS, file_time="2025-10-04T06:30:12"))
    assert picture.shown is None
    for text, why in (("(?P<year>\\d+)", "it names no day, hour, minute, month"), ("(", "")):
        with pytest.raises(UsageError, match="for times in file names does not fit: " + why):
            compiled([text])


def test_cards_are_found_by_their_beginning_and_put_right(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    put_card(home, "abcd1", "CAM1", [Shot("2025-10-01T12:00:00", shown_from="file"), Shot(None)])
    put_card(home, "abcd2", "CAM2", [Shot("2025-10-01T12:00:00")])
    with open_logbook(home) as s:
        assert find_card(s, " ABCD1 ") == "abcd1"
        for word, words in (
            ("abcd", "2 cards begin with 'abcd'"), ("abc", "there is no card 'abc'"),
            ("ffff", "there is no card 'ffff'"), ("", "there is no card ''"),
        ):  # fmt: skip
            with pytest.raises(UsageError) as e:
                find_card(s, word)
            assert e.value.what == words
        done = confirm_file_times(s, "abcd1")
        assert (done.card, done.camera, done.frames) == ("abcd1", "CAM1", 1)
        with pytest.raises(UsageError, match="no time of card abcd2 is a file's stamp"):
            confirm_file_times(s, "abcd2")
        moved = set_camera(s, "abcd1", "cam2")
        assert (moved.camera, moved.was, moved.frames) == ("CAM2", "CAM1", 2)
    with open_logbook(home) as s:
        rows = s.con.execute("SELECT card, camera, file_times FROM cards_now ORDER BY 1").fetchall()
        assert rows == [("abcd1", "CAM2", True), ("abcd2", "CAM2", None)]
        with pytest.raises(UsageError, match="card abcd1 is CAM2's already"):
            set_camera(s, "abcd1", "CAM2")
    assert known_in_words("said with --camera; the owner names A") == (
        "you said so; the owner names A"
    )
    assert known_in_words("said when asked") == "you said so"


def test_sums_hold_or_do_not(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"a")
    line = f"{hashlib.sha256(b'a').hexdigest()}  a\n"
    assert not hold(tmp_path)
    assert said(tmp_path) == {}
    sums = tmp_path / "SHA256SUMS"
    sums.write_text(line)
    assert hold(tmp_path)
    assert said(tmp_path) == {"a": line[:64]}
    for wrong in ("", line + line.replace("  a", "  b"), line.replace(line[0], "x"), "no pair\n"):
        sums.write_text(wrong)
        assert not hold(tmp_path)
    sums.write_bytes(b"\xff")
    assert (hold(tmp_path), said(tmp_path)) == (False, {})


def test_a_card_that_stops_answering_is_gone(tmp_path: Path) -> None:
    def gone(path: Path) -> bool:
        return dump._is_gone(SimpleNamespace(root=path))

    assert gone(tmp_path / "none")
    assert gone(tmp_path)
    (tmp_path / "a").write_text("")
    assert not gone(tmp_path)


@pytest.mark.parametrize(
    ("mount", "files", "free", "full"),
    [(True, 4, 49, True), (True, 4, 50, False), (False, 4, 0, False), (True, 0, 0, False)],
)
def test_a_card_is_full_that_has_no_room_for_two_more_files(
    monkeypatch: pytest.MonkeyPatch, mount: bool, files: int, free: int, full: bool
) -> None:
    """Four files of 100 bytes in all: two more need 50."""
    monkeypatch.setattr(dump.placing, "free_bytes", lambda path: free)
    root = SimpleNamespace(is_mount=lambda: mount)
    card = SimpleNamespace(root=root, files=[None] * files, bytes=100)
    assert dump._is_full(card) is full


def test_a_card_that_cannot_fit_is_refused_before_it_is_copied(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of files of 6 and 7 MB the first may be known, and 3 MB are there already."""
    home = book(tmp_path / "book")
    job = SimpleNamespace(folder=home, known=SimpleNamespace(sizes={6_000_000}))
    listing = SimpleNamespace(files=[SimpleNamespace(bytes=n * 1_000_000) for n in (6, 7)])
    left = SimpleNamespace(bytes=3_000_000)
    for free, refused in ((4_000_000, False), (3_900_000, True)):
        monkeypatch.setattr(dump.placing, "free_bytes", lambda path, free=free: free)
        if not refused:
            dump._check_space(job, listing, left)
            continue
        with pytest.raises(
            InputRefused, match=r"the card needs 4\.0 MB, and only 3\.9 MB are free"
        ):
            dump._check_space(job, listing, left)
    assert home.cards.is_dir()


def test_what_an_interrupted_load_had_placed_is_found_by_its_bytes(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    root = home.cards / f"{incoming.PREFIX}abc"
    for name, data in (("D/a.jpg", b"aa"), ("D/b.jpg", b"bbb"), (f"{placing.TEMP_PREFIX}c", b"aa")):
        path = root / incoming.FILES / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    (home.cards / "a card").mkdir()
    with ThreadPoolExecutor(1) as threads:
        assert incoming.find_leftovers(home, {2}, threads).roots == []
        incoming._lock_path(home, "abc").write_text("")
        found = incoming.find_leftovers(home, {2}, threads)
        assert incoming.find_leftovers(home, {2}, threads).roots == []
    sha = hashlib.sha256(b"aa").hexdigest()
    assert [path for path, _ in found.roots] == [root]
    assert list(found.by_hash) == [bytes.fromhex(sha)]
    assert found.bytes == 2
    assert found.take(sha) == root / incoming.FILES / "D/a.jpg"
    assert found.take(sha) is None
    assert found.take("0" * 64) is None
    assert incoming.sweep(found) == [(root, 2)]
    for path in incoming.files_of(root):
        path.unlink()
    assert incoming.sweep(found) == []
    assert not root.exists()
    found.close()
    assert found.roots == []


def test_of_each_folder_pictures_are_chosen_evenly() -> None:
    """The first and the last of two, of five and of one."""
    names = [f"A/{n}" for n in range(5)] + ["B/0"] + [f"C/{n}" for n in range(2)]
    files = [CardFile(name, name, 1, 0.0) for name in names]
    heard: list[str] = []
    executor = SimpleNamespace(map=lambda f, some: [(Item(c, FACTS, None), b"") for c in some])
    told = SimpleNamespace(
        groups={}, hear=lambda item: heard.append(item.file.path), decide=lambda: None,
        _job=SimpleNamespace(executor=executor), _camera="CAM03",
        _dump=SimpleNamespace(files=files),
    )  # fmt: skip
    for per, folders, chosen in (
        (2, 9, ["A/0", "A/4", "B/0", "C/0", "C/1"]), (1, 9, ["A/0", "B/0", "C/0"]),
        (3, 1, ["A/0", "A/2", "A/4"]),
    ):  # fmt: skip
        heard.clear()
        found = Whose.survey(told, per_folder=per, folders=folders)
        assert [item.file.path for item in found] == heard == chosen
