"""Pages to keep, print and carry: whole in one file, and without places where that is asked."""

from __future__ import annotations

import base64
import io
import re
import shutil
from collections.abc import Iterator
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest
from page_browser import browser
from PIL import Image

from camsign.answers.ground import CameraOrSign, Ground, NamedArea, NamedPlace
from camsign.cli.app import run
from camsign.flows.fieldwork.shorthand import Shorthand, SpotDraft
from camsign.flows.fieldwork.signwords import SignDraft
from camsign.flows.handover.rounded import without_places
from camsign.geo import Circle
from camsign.logbook.settings import Settings
from camsign.report.fieldform import BLANK, EXAMPLES, form_text
from camsign.report.gathered import around
from camsign.report.nameless import aliases, nameless
from camsign.report.page import Page, Section, Table, page_text
from camsign.sign.lines import LineRow
from camsign.stats.estimate import Estimate

BOOK = Path(__file__).resolve().parents[1] / "fixtures" / "logbooks" / "quiet-ridge"


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    home = tmp_path_factory.mktemp("report")
    shutil.copytree(BOOK, home / "quiet-ridge")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CAMSIGN_CACHE", str(home / "cache"))
        patch.setenv("CAMSIGN_CONFIG", str(home / "config"))
        patch.setenv("CAMSIGN_LOGBOOK", str(home / "quiet-ridge"))
        yield home


@pytest.fixture(autouse=True)
def _its_own(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in (("CACHE", "cache"), ("CONFIG", "config"), ("LOGBOOK", "quiet-ridge")):
        monkeypatch.setenv(f"CAMSIGN_{name}", str(book / value))


class Reader(HTMLParser):
    """What a page refers to, and its words."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.outside: list[str] = []
        self.tags: set[str] = set()
        self.words: list[str] = []
        self.images: list[dict[str, str | None]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        given = dict(attrs)
        if tag == "img":
            self.images.append(given)
        self.outside += [v for k in ("src", "href") if (v := given.get(k)) and v[:5] != "data:"]

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def pictures_in(text: str) -> list[tuple[str, bytes]]:
    """Every picture in a page, by its kind."""
    found = re.findall(r"data:image/([a-z]+);base64,([A-Za-z0-9+/=]+)", text)
    return [(kind, base64.b64decode(data)) for kind, data in found]


def names(book: Path) -> tuple[list[str], list[str], list[str]]:
    """Areas, bucks and cameras of the old logbook."""
    from camsign.derive.opening import open_logbook
    from camsign.logbook.folder import Folder

    with open_logbook(Folder(book / "quiet-ridge")) as s:
        areas, bucks, cameras = (
            [row[0] for row in s.con.execute(sql).fetchall()]
            for sql in ("SELECT name FROM areas_now ORDER BY 1",
                        "SELECT DISTINCT n.name FROM bucks_now n JOIN detections d"
                        " ON d.buck_id = n.buck ORDER BY 1",
                        "SELECT DISTINCT camera FROM deployments")
        )  # fmt: skip
    return areas, bucks, cameras


@pytest.mark.thorough
def test_a_page_is_whole_in_itself_and_answers_first(book: Path) -> None:
    areas, bucks, _ = names(book)
    path = book / "page.html"
    assert run(["report", areas[0], bucks[0], str(path)]) in (0, 1)
    text = path.read_text("utf-8")
    page = Reader(text)
    assert page.outside == []
    assert not page.tags & {"script", "link", "iframe", "object", "base"}
    assert "default-src 'none'" in text
    assert all(image.get("alt") for image in page.images)
    assert len(page.images) >= 3
    assert areas[0] in "".join(page.words)
    assert text.index('class="said"') < text.index("<h3>Why") < text.index("How this was figured")
    assert "Absence of pictures is not absence of the buck." in text
    methods = re.findall(r'<p class="method"[^>]*>(.+?)</p>', text, re.DOTALL)
    assert methods and all(text.count(one) == methods.count(one) for one in methods)
    assert not re.search(r"\d{4}-\d\d-\d\d", " ".join(page.words))


@pytest.mark.thorough
def test_a_page_without_places_has_no_name_no_map_and_no_number_of_one(book: Path) -> None:
    areas, bucks, cameras = names(book)
    path = book / "vague.html"
    assert run(["report", "--no-places", areas[0], bucks[0], str(path)]) in (0, 1)
    whole = path.read_text("utf-8")
    words = re.sub(r"data:image/[a-z]+;base64,[A-Za-z0-9+/=]+", "", whole).partition("</style>")[2]
    for name in (*areas, *cameras, "quiet-ridge"):
        assert name not in words
    assert "the map" not in words.lower()
    assert without_places(words) == words
    for kind, data in pictures_in(whole):
        with Image.open(io.BytesIO(data)) as picture:
            assert dict(picture.getexif()) == {}
            told = {k: v for k, v in picture.info.items() if k not in ("dpi", "Software")}
            assert not told or (kind == "jpeg" and {k[:4] for k in told} == {"jfif"})
            assert kind == "png" or picture.height < 900 * 3 // 4 * 0.95
    assert "area A" in words
    assert words.index("<table>") < words.index('class="charts')
    assert bucks[0] in words


@pytest.mark.thorough
def test_a_page_is_read_on_a_phone_without_network_and_fills_its_first_sheet(book: Path) -> None:
    """390 px wide with the network off; then as Letter less its margins, 19.0 x 25.3 cm."""
    areas, _, _ = names(book)
    assert run(["report", areas[0], str(book / "pocket.html")]) in (0, 1)
    assert run(["form", str(book / "form.html")]) == 0
    sheet = (round(18.99 / 2.54 * 96), round(25.34 / 2.54 * 96))
    with browser() as started:
        handheld = {"viewport": {"width": 390, "height": 844}, "offline": True}
        phone = started.chromium.new_context(**handheld).new_page()
        paper = started.chromium.new_page(viewport={"width": sheet[0], "height": sheet[1]})
        paper.emulate_media(media="print")
        for name in ("pocket", "form"):
            phone.goto((book / f"{name}.html").as_uri())
            assert phone.evaluate("document.documentElement.scrollWidth") <= 390
        tops = "all => all.map(i => i.getBoundingClientRect().top)"
        words, rows = (phone.eval_on_selector_all(one, tops) for one in ("h2", ".rows"))
        assert words < rows
        phone.goto((book / "pocket.html").as_uri())
        shown = "all => all.filter(i => i.offsetWidth).map(i => [i.naturalWidth, i.offsetWidth])"
        wide = phone.eval_on_selector_all(".chart img", shown)
        assert {natural for natural, _ in wide} == {858}
        paper.goto((book / "pocket.html").as_uri())
        ends = paper.eval_on_selector_all(
            ".wide img", "all => all.map(i => i.getBoundingClientRect().bottom)"
        )
        assert 0.5 * sheet[1] < ends[0] < sheet[1]
        across = paper.eval_on_selector_all(".chart img", shown)
        assert len(across) == len(wide)
        assert all(0.45 * sheet[0] < drawn < 0.5 * sheet[0] for _, drawn in across)
        printed = paper.pdf(format="Letter")
        assert printed.startswith(b"%PDF") and 2 <= len(re.findall(rb"/Type /Page\b", printed)) <= 3
        paper.goto((book / "form.html").as_uri())
        rows = paper.eval_on_selector_all(
            ".row", "all => all.map(i => i.getBoundingClientRect().bottom)"
        )
        assert len(rows) == BLANK
        assert max(rows) < sheet[1]


def test_a_page_that_is_not_called_html_is_refused(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["report", "page.html", str(book / "x")]) == 2
    assert "name it last, ending in .html" in capsys.readouterr().err
    assert run(["report", "Nowhere", str(book / "x.html")]) == 2
    assert "is no area and no buck" in capsys.readouterr().err
    assert not list(book.glob("x*"))


def test_a_map_around_an_area_has_the_ways_to_it_and_each_rub_of_its_lines() -> None:
    at = [(44.62, -71.23), (44.61, -71.23), (44.6, -71.23)]
    rubs = tuple(CameraOrSign(f"s-{i}", f"s-{i}", "rub", *p, None) for i, p in enumerate(at))
    apart = CameraOrSign("s-9", "s-9", "rub", 44.6, -71.24, None)
    area = NamedArea("a-1", "Brindle Knob", "bedding", Circle(44.62, -71.23, 80.0))
    path = NamedPlace("p-1", "Brook path", "way in", ((-71.24, 44.61), (-71.23, 44.619)))
    there = Ground((), (*rubs, apart), (area,), (path,))
    line = LineRow("L1", 3, Estimate(180.0, 170.0, 0.0), 0.9, 0.01, 0.02, 0, 100.0, at[0], at[0],
                   at[-1], at[-1], (), tuple(at))  # fmt: skip
    shown = around(there, "a-1", [line])
    assert [s.id for s in shown.sign] == ["s-0", "s-1", "s-2"]
    assert shown.places == (path,)
    assert [s.id for s in around(there, "a-1").sign] == ["s-0"]


@pytest.mark.thorough
def test_charts_and_maps_are_drawn_by_their_words(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    areas, bucks, _ = names(book)
    who = ["--area", areas[0], "--buck", bucks[0]]
    for what in ("months", "calendar", "areas", "years"):
        assert run(["chart", what, str(book / f"{what}.png"), *who]) in (0, 1)
        assert (book / f"{what}.png").stat().st_size > 5000
    assert run(["map", str(book / "m.svg"), "--area", areas[0]]) in (0, 1)
    assert run(["chart", "day", str(book / "d.png")]) == 2
    assert "this chart is of one buck; name it with --buck" in capsys.readouterr().err
    assert run(["chart", "pie", str(book / "d.png")]) == 2


def test_names_and_places_are_taken_out_wherever_they_stand() -> None:
    hidden = aliases(["Brindle Knob", "Brindle"], ["Ledge Pine"], ["CAM1", "CAM12"])
    said = nameless(
        ("In brindle knob, by CAM12 at 44.61234,-71.2", {"Ledge Pine": ["CAM1"]}), hidden
    )
    assert said == ("In area A, by camera 2 at …,-71.2", {"place 1": ["camera 1"]})


def test_a_logbook_that_names_no_place_still_shows_none() -> None:
    """No camera, no area: sign alone must not bring the map and its numbers back."""
    assert nameless("rub at 44.61234, -71.23125", aliases([], [], [])) == "rub at …, …"
    assert nameless("rub at 44.61234", None) == "rub at 44.61234"


def test_what_people_wrote_cannot_become_part_of_the_page() -> None:
    bad = '<script>alert(1)</script>"'
    page = Page(bad, bad, [Section(bad, bad, (), [Table((bad,), [(bad,)])], (bad,), bad)], (bad,))
    assert "script" not in Reader(page_text(page)).tags


def test_every_line_of_the_form_is_read_as_it_is_meant() -> None:
    for units, lines in EXAMPLES.items():
        reader = Shorthand(Settings(id="w", tz="UTC", units=units), ["CAM07"])
        rub, bare, scrape, bed, camera, stand, area = map(reader.read, lines)
        assert isinstance(rub, SignDraft)
        assert isinstance(bare, SignDraft)
        assert rub.kind == "rub" and rub.species == "alder" and rub.state == "fresh"
        assert rub.heading is not None and (rub.heading.bearing.deg, rub.heading.bare) == (
            45.0,
            False,
        )
        assert bare.heading is not None and (bare.heading.bearing.deg, bare.heading.bare) == (
            225.0,
            True,
        )
        assert 0.85 < rub.measures["top_m"] < 0.87
        assert isinstance(scrape, SignDraft) and scrape.kind == "scrape"
        assert isinstance(bed, SignDraft) and 1.2 < bed.measures["length_m"] < 1.3
        assert isinstance(camera, SpotDraft) and camera.kind == "camera"
        assert isinstance(stand, SpotDraft) and stand.kind == "stand"
        assert isinstance(area, SpotDraft) and area.kind == "bedding"
        text = form_text(units)  # type: ignore[arg-type]
        assert all(line in text for line in lines)
        assert Reader(text).outside == []


@pytest.mark.thorough
def test_without_watch_a_page_puts_no_area_first_and_counts_no_buck(book: Path) -> None:
    areas, _, _ = names(book)
    for about in ([], [areas[0]]):
        path = book / "unwatched.html"
        assert run(["report", *about, str(path), "--season", "2015"]) == 0
        text = unescape(path.read_text("utf-8"))
        said = text.partition('class="said"')[2].partition("</")[0]
        assert "Can't tell" in said
        assert " first" not in said and "At least" not in said


def test_a_report_without_a_file_is_told_what_to_say(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["report", "Brindle Knob"]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert 'name it last, ending in .html: camsign report "Brindle Knob" page.html' in said
