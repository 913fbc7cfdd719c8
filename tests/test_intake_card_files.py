"""What lies on a card, where its dumps are, and paths made safe for every system."""

from __future__ import annotations

import os
from pathlib import Path, PureWindowsPath

import made_cards as made
import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.flows.intake import ingest
from camsign.flows.intake.card_files import Dump, find_dumps, list_files, text_of
from camsign.flows.intake.incoming import MAX_PATH, SafeNames, safe_name

PICTURE = {"DCIM/100MEDIA/IMG_0001.JPG": b"x"}


def roots(dumps: list[Dump], base: Path) -> list[str]:
    return [str(d.root.relative_to(base)) for d in dumps]


def paths(dump: Dump) -> list[str]:
    return [f.card_path for f in list_files(dump).files]


def test_each_dcim_folder_makes_a_dump_of_its_parent(tmp_path: Path) -> None:
    for name in ("a", "b/2025", "b/2026"):
        made.fill(tmp_path / "in" / name, PICTURE)
    dumps = find_dumps([tmp_path / "in"], tmp_path / "book")
    assert roots(dumps, tmp_path / "in") == ["a", "b/2025", "b/2026"]
    assert dumps[1].names == ("in", "b", "2025")


def test_what_lies_beside_dumps_is_a_dump_too(tmp_path: Path) -> None:
    made.fill(tmp_path / "in", {"loose.jpg": b"x", "sub/more.jpg": b"y"})
    made.fill(tmp_path / "in" / "a", PICTURE)
    rest, dump = find_dumps([tmp_path / "in"], tmp_path / "book")
    assert paths(rest) == ["loose.jpg", "sub/more.jpg"]
    assert paths(dump) == ["DCIM/100MEDIA/IMG_0001.JPG"]


def test_a_named_file_that_is_gone_meanwhile_keeps_no_other_out(tmp_path: Path) -> None:
    """All cards are listed first: one such file stopped them all."""
    made.fill(tmp_path / "in", {"here.jpg": b"x", "gone.jpg": b"y"})
    (dump,) = find_dumps([tmp_path / "in/here.jpg", tmp_path / "in/gone.jpg"], tmp_path / "book")
    (tmp_path / "in/gone.jpg").unlink()
    listing = list_files(dump)
    assert [f.card_path for f in listing.files] == ["here.jpg"]
    ((gone, why),) = [(x.file, x.why) for x in listing.left]
    assert gone == "gone.jpg" and why.startswith("cannot be read (")


def test_dcim_itself_may_be_named_and_keeps_its_paths(tmp_path: Path) -> None:
    made.fill(tmp_path / "card", PICTURE | {"beside.txt": b"no"})
    (dump,) = find_dumps([tmp_path / "card" / "DCIM"], tmp_path / "book")
    assert paths(dump) == ["DCIM/100MEDIA/IMG_0001.JPG"]


def test_dcim_on_a_mounted_card_stands_for_the_card(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made.fill(tmp_path / "card", PICTURE | {"beside.txt": b"no"})
    monkeypatch.setattr(os.path, "ismount", lambda p: str(p) == str(tmp_path / "card"))
    (dump,) = find_dumps([tmp_path / "card" / "DCIM"], tmp_path / "book")
    assert dump.root == tmp_path / "card"


def test_a_dcim_inside_a_dcim_is_no_card_of_its_own(tmp_path: Path) -> None:
    made.fill(tmp_path / "card", PICTURE | {"DCIM/backup/DCIM/100MEDIA/IMG_0001.JPG": b"y"})
    (dump,) = find_dumps([tmp_path / "card"], tmp_path / "book")
    assert len(paths(dump)) == 2


def test_a_logbook_under_the_path_is_passed_over(tmp_path: Path) -> None:
    made.fill(tmp_path / "in", PICTURE)
    made.fill(tmp_path / "in" / "book" / "cards", {"old/DCIM/IMG_0001.JPG": b"z"})
    (dump,) = find_dumps([tmp_path / "in"], tmp_path / "in" / "book")
    assert paths(dump) == ["DCIM/100MEDIA/IMG_0001.JPG"]


def test_single_files_are_taken_together(tmp_path: Path) -> None:
    made.fill(tmp_path / "in", {"b.jpg": b"x", "a.jpg": b"y", "c.jpg": b"z"})
    files = [tmp_path / "in" / n for n in ("b.jpg", "a.jpg")]
    (dump,) = find_dumps(files, tmp_path / "book")
    assert paths(dump) == ["a.jpg", "b.jpg"]


def test_single_files_never_make_a_card_safe_to_wipe(tmp_path: Path) -> None:
    book = made.logbook(tmp_path / "book", "CAM03")
    card = made.card(tmp_path / "CAM03", 2)
    result = ingest(book, [next(card.rglob("*.JPG"))], camera="CAM03")
    assert result.new == 1 and not result.safe_to_wipe


def test_the_order_is_that_of_names_whatever_the_disk_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made.fill(tmp_path, {f"{d}/{n}.jpg": b"x" for d in "cab" for n in ("Z", "a", "M")})
    scandir, dump = os.scandir, Dump(tmp_path, ())
    expected = paths(dump)

    class Shuffled:
        def __init__(self, path: str) -> None:
            self.scan = scandir(path)

        def __enter__(self):
            return iter(made.shuffled(self.scan, 4))

        def __exit__(self, *e: object) -> None:
            self.scan.close()

    monkeypatch.setattr(os, "scandir", Shuffled)
    assert paths(dump) == expected == sorted(expected, key=str.casefold)


@pytest.mark.skipif(os.name == "nt", reason="links need rights on Windows")
def test_links_are_listed_and_not_followed(tmp_path: Path) -> None:
    card = made.fill(tmp_path / "card", PICTURE)
    secret = made.fill(tmp_path / "secret", {"letter.jpg": b"mine"})
    (card / "DCIM" / "out").symlink_to(secret, target_is_directory=True)
    (card / "DCIM" / "letter.jpg").symlink_to(secret / "letter.jpg")
    (card / "DCIM" / "loop").symlink_to(card, target_is_directory=True)
    listing = list_files(Dump(card, ()))
    assert [f.card_path for f in listing.files] == ["DCIM/100MEDIA/IMG_0001.JPG"]
    assert sorted(x.file for x in listing.left) == ["DCIM/letter.jpg", "DCIM/loop", "DCIM/out"]
    assert all("link" in x.why for x in listing.left)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no pipes in folders")
def test_what_is_no_file_is_listed_and_not_waited_for(tmp_path: Path) -> None:
    made.fill(tmp_path, PICTURE)
    os.mkfifo(tmp_path / "pipe.jpg")
    (left,) = list_files(Dump(tmp_path, ())).left
    assert (left.file, left.why) == ("pipe.jpg", "not an ordinary file")


@pytest.mark.skipif(os.name == "nt", reason="Windows names are text")
def test_a_name_that_is_no_text_is_told_all_the_same(tmp_path: Path) -> None:
    path = os.fsencode(tmp_path) + b"/IMG_\xff\xfe.JPG"
    try:
        with open(path, "wb") as f:  # noqa: PTH123
            f.write(made.jpeg(1))
    except OSError:
        pytest.skip("this file system takes only text")
    book = made.logbook(tmp_path.parent / "odd-book", "CAM03")
    result = ingest(book, [tmp_path], camera="CAM03")
    assert result.new == 1 and result.safe_to_wipe
    assert next(book.cards.rglob("IMG_*")).name == "IMG__xff_xfe.JPG"
    assert text_of("IMG_\udcff.JPG") == "IMG_\\xff.JPG"


# Names. Source of the rules: Microsoft, "Naming Files, Paths, and Namespaces".


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("IMG_0001.JPG", "IMG_0001.JPG"),
        ("CON", "_CON"),
        ("con.jpg", "_con.jpg"),
        ("LPT1.tar.gz", "_LPT1.tar.gz"),
        ("COM0", "_COM0"),
        ("CONSOLE.JPG", "CONSOLE.JPG"),
        ("a:b?c*.jpg", "a_b_c_.jpg"),
        ("trailing. . ", "trailing"),
        ("...", "_"),
        ("tab\there", "tab_here"),
        ("back\\slash", "back_slash"),
        ("nul", "_nul"),
        (".tmp-x", "_.tmp-x"),
        ("e\u0301te.jpg", "\u00e9te.jpg"),
    ],
)
def test_names_made_safe(name: str, safe: str) -> None:
    assert safe_name(name) == safe


ODD = st.text(
    st.sampled_from("aAbB.. :*?\\~_-\u00e9\u0301\u00df1")
    | st.characters(exclude_categories=["Cs"]),
    min_size=1,
    max_size=12,
).filter(lambda s: "/" not in s)


@given(st.lists(st.lists(ODD, min_size=1, max_size=4), min_size=1, max_size=12))
def test_any_paths_stay_apart_on_every_system(parts: list[list[str]]) -> None:
    names = SafeNames()
    safe = [names.path("/".join(p)) for p in parts]
    assert len({s.casefold() for s in safe}) == len(safe)
    for s in safe:
        assert len(s) <= MAX_PATH + 4 and not s.startswith("/")
        for part in s.split("/"):
            assert part not in ("", ".", "..") and part == part.rstrip(". ")
            assert not PureWindowsPath(part).is_reserved()
            assert not set(part) & set('<>:"|?*\\')
    folded = [s.casefold() for s in safe]
    assert not any(a.startswith(b + "/") for a in folded for b in folded)


def test_a_file_and_a_folder_whose_safe_names_meet() -> None:
    names = SafeNames()
    asked = ["x", "X./y.jpg", "b/c.jpg", "B.", "X./z.jpg"]
    assert [names.path(p) for p in asked] == ["x", "X~2/y.jpg", "b/c.jpg", "B~2", "X~2/z.jpg"]


@pytest.mark.thorough
def test_names_that_differ_by_case_only_both_stay(tmp_path: Path) -> None:
    files = {"DCIM/IMG_1.JPG": made.jpeg(1), "DCIM/img_1.jpg": made.jpeg(2)}
    card = made.fill(tmp_path / "CAM03", files)
    if len(list(card.rglob("*.*"))) < 2:
        pytest.skip("this file system knows no case")
    book = made.logbook(tmp_path / "book", "CAM03")
    assert ingest(book, [card]).safe_to_wipe
    placed = sorted(p.name for p in book.cards.rglob("*") if p.suffix.lower() == ".jpg")
    assert placed == ["IMG_1.JPG", "img_1~2.jpg"]


def test_a_path_of_300_characters_is_shortened_and_remembered(tmp_path: Path) -> None:
    deep = "/".join(["DCIM", *["a" * 45] * 6, "IMG_0001.JPG"])
    assert len(deep) > 290
    book = made.logbook(tmp_path / "book", "CAM03")
    result = ingest(book, [made.fill(tmp_path / "CAM03", {deep: made.jpeg(1)})])
    assert result.safe_to_wipe
    (placed,) = book.cards.rglob("*IMG_0001.JPG")
    inside = placed.relative_to(book.cards / result.cards[0].folder / "files")
    assert len(str(inside)) < MAX_PATH
    with made.open_logbook(book) as session:
        assert session.con.execute("SELECT card_path FROM frames").fetchall() == [(deep,)]


@pytest.mark.thorough
@pytest.mark.skipif(os.name == "nt", reason="Windows cannot hold such names")
def test_reserved_windows_names_come_in(tmp_path: Path) -> None:
    files = {
        "CON/NUL.JPG": made.jpeg(1),
        "DCIM/AUX.JPG": made.jpeg(2),
        "DCIM/a:b.jpg": made.jpeg(3),
    }
    book = made.logbook(tmp_path / "book", "CAM03")
    assert ingest(book, [made.fill(tmp_path / "CAM03", files)]).safe_to_wipe
    names = {p.name for p in book.cards.rglob("*.[Jj][Pp][Gg]")}
    assert names == {"_NUL.JPG", "_AUX.JPG", "a_b.jpg"}


# Numbers that cameras give (DCF 2.0, CIPA DC-009) repeat and roll over, and mean nothing here.


@pytest.mark.thorough
def test_numbers_that_roll_over_and_folders_that_repeat_them(tmp_path: Path) -> None:
    files = {
        "DCIM/100MEDIA/IMG_9998.JPG": made.jpeg(1),
        "DCIM/100MEDIA/IMG_9999.JPG": made.jpeg(2),
        "DCIM/101MEDIA/IMG_0001.JPG": made.jpeg(3),
        "DCIM/102MEDIA/IMG_0001.JPG": made.jpeg(4),
    }
    book = made.logbook(tmp_path / "book", "CAM03")
    result = ingest(book, [made.fill(tmp_path / "CAM03", files)])
    assert (result.new, result.safe_to_wipe) == (4, True)
    placed = {p.read_bytes() for p in book.cards.rglob("*.JPG")}
    assert placed == set(files.values())


@pytest.mark.thorough
def test_two_cards_of_one_camera_that_overlap_in_time(tmp_path: Path) -> None:
    book = made.logbook(tmp_path / "book", "CAM03")
    shared = made.frames(3)
    one = made.fill(tmp_path / "a" / "CAM03", shared | made.frames(2, 10, "DCIM/101MEDIA"))
    two = made.fill(tmp_path / "b" / "CAM03", shared | made.frames(2, 20, "DCIM/101MEDIA"))
    first, second = ingest(book, [one]), ingest(book, [two])
    assert (first.new, second.new, second.known) == (5, 2, 3)
    with made.open_logbook(book) as session:
        assert session.con.execute("SELECT count(*) FROM frames").fetchall() == [(7,)]
