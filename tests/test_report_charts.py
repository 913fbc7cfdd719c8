"""Charts and the map, drawn from results made by hand and compared with pictures looked at before.

The pictures lie in fixtures/charts; CAMSIGN_DRAW_AGAIN=1 writes them anew, to be looked at.
"""

from __future__ import annotations

import io
import os
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import numpy as np
import pypdf
import pytest
from matplotlib.transforms import Bbox
from PIL import Image

from camsign.answers.area_sign import AreaSign
from camsign.answers.bedding import Bedding
from camsign.answers.calendar import Calendar, CalendarDay, MadeWindow
from camsign.answers.chances import PartChance
from camsign.answers.compared import Compare, Compared
from camsign.answers.days import SeasonPart
from camsign.answers.ground import CameraOrSign, Ground, NamedArea, NamedPlace, Pictured
from camsign.answers.result import Figure as Number
from camsign.answers.result import Watch
from camsign.answers.visits import VisitRow, Visits
from camsign.answers.ways import Way, Ways
from camsign.answers.when import CurvePoint, Visit, When
from camsign.errors import InputRefused, UsageError
from camsign.geo import Circle
from camsign.magnetism import declination_deg
from camsign.report import charts
from camsign.report.chart_days import calendar_chart
from camsign.report.chart_hours import day_by_sun
from camsign.report.labels import Labels
from camsign.report.mapframe import _whole_only, corner
from camsign.report.mapsign import WorkedOut, rims
from camsign.report.propertymap import _plane, map_figure
from camsign.report.style import as_bytes, save
from camsign.sign.lines import LineRow
from camsign.sign.marks import PLACES
from camsign.sign.proposals import Proposal
from camsign.stats.estimate import Estimate
from camsign.units import format_length

if TYPE_CHECKING:
    from matplotlib.figure import Figure

ROOT = Path(__file__).resolve().parents[1]
HERE = ROOT / "fixtures" / "charts"
SCRIPTS = ROOT / "camsign" / "page" / "static"
WATCH = Watch(("CAM01",), 60, 58, date(2025, 10, 1), date(2025, 11, 29))
NOTHING = Number(None, None, None)
DAY = datetime(2025, 10, 20, 10, tzinfo=UTC)


def when_(shift: float = 0.0) -> When:
    curve = [
        CurvePoint(h, Number(v := 0.02 + 0.2 * (abs(h - 6 - shift) < 1.5), v / 2, v * 1.6))
        for h in np.arange(0, 24, 0.5).tolist()
    ]
    seen = [
        Visit(DAY, DAY, DAY, "CAM01", light, light == "day", rise + 60 * shift, sets, 5.0, 3)
        for rise, sets, light in ((-20.0, -680.0, "gray"), (30.0, -630.0, "day"),
                                  (35.0, -625.0, "day"), (900.0, 240.0, "dark"))
    ]  # fmt: skip
    parts = (
        PartChance("October 2025", Number(0.12, 0.05, 0.25), 31, 0, *OCTOBER),
        PartChance("November 2025", Number(0.4, 0.25, 0.6), 27, 14, *OCTOBER),
    )
    return When(
        "Old Quarrel", "b-1", "Brindle Knob", "a-1", 60, (), (), NOTHING, 2, 1, 1, NOTHING, DAY, 3,
        0, NOTHING, (), parts, (), tuple(curve), None, tuple(seen), WATCH, "", (),
    )  # fmt: skip


def calendar_(unsorted: int = 5) -> Calendar:
    days = []
    for i in range(60):
        state = "watched" if i < 40 else "unsorted" if i < 40 + unsorted else "not watched"
        came = state == "watched" and i % 7 == 3
        lit = int(came and i % 14 == 3)
        days.append(CalendarDay(date(2025, 10, 1) + timedelta(i), state, 2 * came, lit))
    phases = (SeasonPart("lull", date(2025, 10, 1), date(2025, 10, 24)),
              SeasonPart("rut", date(2025, 10, 25), date(2025, 11, 29)))  # fmt: skip
    made = (MadeWindow("rub", date(2025, 10, 5), date(2025, 10, 19)),)
    return Calendar("Brindle Knob", ("Old Quarrel",), tuple(days), phases, made, 40, unsorted)


def bedding_(turn: float = 0.0) -> Bedding:
    ways = Ways((Way("CAM01", Number(210.0 + turn, 190.0 + turn, 235.0 + turn), 9, 2.0),),
                (Way("CAM01", Number(35.0, 350.0, 60.0), 6, 1.0),))  # fmt: skip
    sign = AreaSign.__new__(AreaSign)
    return Bedding("Brindle Knob", "a-1", 50, (), 0, 0, sign, "likely", "", "", ways, WATCH, "", ())


OCTOBER = (date(2025, 10, 1), date(2025, 10, 31))


def compare_() -> Compare:
    rows = [
        Compared(name, f"a-{rank}", "bedding", rank, (), rate, rate, rate, n, n, 0, NOTHING,
                 "likely", NOTHING, 0.0, None, None, 1, 50, ())
        for rank, name, rate, n in ((1, "Brindle Knob", Number(4.0, 2.5, 6.1), 20),
                                    (2, "Spruce Shelf", Number(1.0, 0.2, 2.9), 4),
                                    (3, "Lantern Swale", NOTHING, 0))
    ]  # fmt: skip
    return Compare(tuple(rows), {}, "", ())


def years_(phone: bool = False) -> Figure:
    found = []
    for season, rate in ((2024, Number(10.0, 4.0, 22.0)), (2025, Number(31.0, 18.0, 50.0))):
        row = VisitRow(
            buck="Old Quarrel", buck_id="b-1", area="Brindle Knob", area_id="a-1", visits=12,
            nights_seen=10, nights_watched=60, on_watch=12, per_100_nights=rate,
            per_100_nights_poisson=rate, trend=NOTHING, day=6, gray=3, dark=3,
            shooting_light=NOTHING, daylight=NOTHING, days_between_median=NOTHING, first_seen=None,
            last_seen=None, unidentified=0, doubtful_time=0, weak_times=0, why=(),
        )  # fmt: skip
        found.append((season, Visits((row,), {"Brindle Knob": WATCH}, "", ())))
    return charts.years("Old Quarrel", found, phone)


def ground_() -> Ground:
    cameras = (CameraOrSign("d-1", "CAM01", "camera", 44.6, -71.2, 125.0),)
    sign = tuple(
        CameraOrSign(f"s-{i}", f"s-{i}", kind, 44.6 + 0.0006 * i, -71.2 + 0.0009 * i, 40.0 * i,
                     date(2025, 11, 1), fresh=i % 2 == 0)
        for i, kind in enumerate(("rub", "scrape", "bed", "shed"), 1)
    )  # fmt: skip
    areas = (NamedArea("a-1", "Brindle Knob", "bedding", Circle(44.602, -71.198, 90.0)),)
    places = (NamedPlace("p-1", "Ledge Pine", "stand", ((-71.1985, 44.6005),)),
              NamedPlace("p-2", "Brook path", "way in", ((-71.2, 44.599), (-71.1986, 44.6004))),
              NamedPlace("p-3", "Spring", "water", ((-71.1962, 44.6008),)))  # fmt: skip
    return Ground(cameras, sign, areas, places, "imperial")


def worked_out_() -> WorkedOut:
    """A line, a hub that no area answers, and one camera that pictured him."""
    at = [(44.6006 + 0.0003 * i, -71.1994 - 0.0001 * i) for i in range(4)]
    line = LineRow("L1", 4, Estimate(350.0, 340.0, 0.0), 0.9, 0.01, 0.02, 0, 100.0, at[0], at[0],
                   at[-1], (44.6030, -71.2001), (), tuple(at))  # fmt: skip
    hub = Proposal("Bedding 1 from rubs", "bedding", 44.6024, -71.1966, 40.0, 9.0, 0.0,
                   (45.0, 20.0), 60.0, 12, 6, 0, 1, 1, Estimate(3.0, 2.0, 5.0), None, None, [],
                   ())  # fmt: skip
    return WorkedOut([line], [hub], {"d-1": Pictured("d-1", "CAM01", 14, 12, None, 60)})


DRAWN: dict[str, Callable[[], Figure]] = {
    "day": lambda: day_by_sun(when_()),
    "months": lambda: charts.months(when_()),
    "calendar": lambda: calendar_chart(calendar_()),
    "rose": lambda: charts.rose(bedding_()),
    "areas": lambda: charts.areas_compared(compare_()),
    "years": years_,
    "map": lambda: map_figure(
        ground_(),
        "Gore",
        {"a-1": "He beds here"},
        None,
        date(2025, 11, 1),
        worked_out_(),
        "2025 season",
    ),
}
ON_A_PHONE: dict[str, Callable[[], Figure]] = {
    "day": lambda: day_by_sun(when_(), phone=True),
    "months": lambda: charts.months(when_(), True),
    "calendar": lambda: calendar_chart(calendar_(), True),
    "rose": lambda: charts.rose(bedding_(), True),
    "areas": lambda: charts.areas_compared(compare_(), True),
    "years": lambda: years_(True),
}
OTHERS: dict[str, Callable[[], Figure]] = {
    "day": lambda: day_by_sun(when_(3.0)),
    "calendar": lambda: calendar_chart(calendar_(12)),
    "rose": lambda: charts.rose(bedding_(60.0)),
}
MOST = 0.0015


def small(figure: Figure) -> np.ndarray:
    """A figure at a third of its size, in gray: what stays of it in black and white."""
    picture = Image.open(io.BytesIO(as_bytes(figure))).convert("L")
    return np.asarray(
        picture.resize((picture.width // 3, picture.height // 3), Image.Resampling.BOX)
    )


def apart(one: np.ndarray, other: np.ndarray) -> float:
    if one.shape != other.shape:
        return 1.0
    return float(np.abs(one.astype(float) - other.astype(float)).mean() / 255)


@pytest.mark.thorough
@pytest.mark.parametrize("name", DRAWN)
def test_a_picture_is_as_it_was_looked_at(name: str) -> None:
    path, now = HERE / f"{name}.png", small(DRAWN[name]())
    if os.environ.get("CAMSIGN_DRAW_AGAIN"):
        Image.fromarray(now).save(path, optimize=True)
    was = np.asarray(Image.open(path))
    assert apart(now, was) < MOST


@pytest.mark.thorough
@pytest.mark.parametrize("name", OTHERS)
def test_other_numbers_make_another_picture(name: str) -> None:
    assert apart(small(OTHERS[name]()), np.asarray(Image.open(HERE / f"{name}.png"))) > MOST


def test_areas_stand_at_what_is_expected_there() -> None:
    drawn = charts.areas_compared(compare_()).axes[0].lines
    dots = {line.get_xdata()[0] for line in drawn if line.get_marker() == "o"}
    assert dots == {4.0, 1.0}
    assert any(list(line.get_xdata()) == [2.5, 6.1] for line in drawn)


def test_unknown_days_look_like_no_other_day() -> None:
    """In gray: a day not watched, one not sorted, and one watched without a picture."""
    from matplotlib.patches import Rectangle

    axes = calendar_chart(calendar_()).axes[0]
    looks = {(p.get_facecolor(), p.get_hatch()) for p in axes.patches if isinstance(p, Rectangle)}
    assert len(looks) == 5
    assert sum(t.get_text() == "?" for t in axes.texts) == 5


def keys(figure: Figure) -> set[str]:
    return {t.get_text() for key in figure.legends for t in key.get_texts()}


def test_dark_gray_light_and_day_are_three_shades_in_black_and_white() -> None:
    figure = day_by_sun(replace(when_(), activity=()))
    gray = np.asarray(Image.open(io.BytesIO(as_bytes(figure))).convert("L")).astype(float)
    axes = figure.axes[0]

    def shade(start: float, end: float) -> float:
        (x0, y0), (x1, y1) = axes.transData.transform([(start, 0.2), (end, 0.8)]).astype(int)
        high = gray.shape[0]
        return float(gray[high - y1 : high - y0, x0 + 2 : x1 - 2].mean())

    dark, dim, day = shade(1, 5), shade(5.5, 6), shade(8, 16)
    assert dark + 15 < dim < day - 15
    assert {"dark", "gray light"} <= keys(figure)
    late = day_by_sun(replace(when_(), activity=()), (0.0, 90.0)).axes[0].patches
    assert {round(p.get_x(), 2) for p in late} == {0.0, 6.0, 18.0, 19.5}  # type: ignore[attr-defined]


def test_the_curve_goes_around_to_midnight_and_each_visit_has_its_own_mark() -> None:
    seen = when_()
    figure = day_by_sun(replace(seen, visits=seen.visits[1:2] * 9))
    curve = next(line for line in figure.axes[0].lines if line.get_label() == "share of his visits")
    x, y = np.asarray(curve.get_xdata()), np.asarray(curve.get_ydata())
    assert (x[0], x[-1], y[0]) == (0, 24, y[-1])
    (marks,) = [np.asarray(c.get_offsets()) for c in figure.axes[0].collections
                if c.get_label() == "visit by day"]  # fmt: skip
    assert len(np.unique(marks, axis=0)) == 9
    assert marks[:, 1].min() > figure.axes[0].get_ylim()[0]


@pytest.mark.parametrize(
    ("bucks", "whom"), [((), "a buck"), (("Ferrous",), "him"), (("A", "B"), "any of them")]
)
def test_a_calendar_says_whose_pictures_are_missing_and_explains_only_what_it_shows(
    bucks: tuple[str, ...], whom: str
) -> None:
    said = keys(calendar_chart(replace(calendar_(), bucks=bucks)))
    assert f"covered, no picture of {whom}" in said
    assert {"not covered: unknown", "? pictures not sorted: unknown"} <= said
    whole = replace(calendar_(), days=calendar_().days[:40])
    assert not {k for k in keys(calendar_chart(whole)) if "unknown" in k}
    assert {t.get_text() for t in calendar_chart(calendar_(1)).texts} >= {
        "12 visits; 40 of 41 days counted (1 not sorted), 19 days not covered"
    }


def test_each_mark_of_a_chart_is_in_its_key() -> None:
    both = {"best guess", "likely range (95%)"}
    assert keys(DRAWN["months"]()) == both | {"as counted"}
    assert keys(DRAWN["areas"]()) == keys(DRAWN["years"]()) == both
    assert "Oct 2025" in {t.get_text() for t in DRAWN["calendar"]().axes[0].texts}
    rose = DRAWN["rose"]()
    assert keys(rose) == {"CAM01"}
    assert any("Width: where the way may lie" in t.get_text() for t in rose.texts)
    rose.canvas.draw()
    (key,) = rose.legends
    south = [t for axes in rose.axes for t in axes.get_xticklabels() if t.get_text() == "S"]
    assert not any(t.get_window_extent().overlaps(key.get_window_extent()) for t in south)


@pytest.mark.thorough
@pytest.mark.parametrize("name", [n for n in DRAWN if n != "map"])
def test_a_chart_for_a_phone_is_read_without_making_it_larger(name: str) -> None:
    """A phone of 390 px, less the page's edges, gives 358: letters of more than 8 px, none cut."""
    figure = ON_A_PHONE[name]()
    drawn = np.asarray(Image.open(io.BytesIO(as_bytes(figure))).convert("L"))
    assert np.ptp(drawn[:, -3:]) == 0
    wide = figure.get_figwidth()
    texts = [t for t in figure.findobj(lambda a: hasattr(a, "get_fontsize")) if t.get_text()]
    assert min(t.get_fontsize() for t in texts) / 72 * 358 / wide > 8.5


@pytest.mark.thorough
@pytest.mark.parametrize("ending", ["png", "svg", "pdf"])
def test_a_picture_is_written_the_same_each_time(tmp_path: Path, ending: str) -> None:
    one, two = (save(DRAWN["areas"](), tmp_path / f"{n}.{ending}") for n in "ab")
    assert one.read_bytes() == two.read_bytes()
    wide, tall = DRAWN["areas"]().get_size_inches()
    assert _opened(one) == pytest.approx(wide / tall, rel=0.01)


def _opened(path: Path) -> float:
    """How many times as wide as tall a picture is, by a reader that had no part in writing it."""
    if path.suffix == ".png":
        with Image.open(path) as picture:
            picture.load()
            return picture.width / picture.height
    if path.suffix == ".svg":
        root = ElementTree.parse(path).getroot()
        assert root.tag == "{http://www.w3.org/2000/svg}svg"
        assert len(list(root.iter("{http://www.w3.org/2000/svg}path"))) > 20
        _, _, wide, tall = (float(n) for n in root.attrib["viewBox"].split())
        return wide / tall
    (page,) = pypdf.PdfReader(path, strict=True).pages
    assert "Brindle Knob" in page.extract_text()
    return float(page.mediabox.width / page.mediabox.height)


def test_another_ending_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="is no picture"):
        save(DRAWN["areas"](), tmp_path / "a.jpg")
    assert list(tmp_path.iterdir()) == []


def test_no_word_on_the_map_lies_on_a_mark_or_another_word() -> None:
    figure = DRAWN["map"]()
    axes = figure.axes[0]
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    names = {"CAM01\n14 visits, 12 in light; 60 days", "Ledge Pine", "Spring", "Brook path",
             "Brindle Knob · bedding\nHe beds here", "bedding? (12 rubs)"}  # fmt: skip
    words = [t.get_window_extent(renderer) for t in axes.texts if t.get_text() in names]
    assert len(words) == 6
    assert not any(a.overlaps(b) for i, a in enumerate(words) for b in words[i + 1 :])
    marks = [p for c in axes.collections for p in axes.transData.transform(c.get_offsets())]
    assert not any(w.contains(x, y) for w in words for x, y in marks if np.isfinite((x, y)).all())
    hub = axes.transData.transform(rims(worked_out_().hubs, _plane(ground_())))
    assert not any(w.contains(x, y) for w in words for x, y in hub)
    needles = Bbox(axes.transAxes.transform(corner(axes)))
    assert not any(w.overlaps(needles) for w in words)


def bare_labels() -> Labels:
    """A map with nothing on it, in which a point is a pixel."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure as Drawn

    figure = Drawn(figsize=(6, 6), dpi=72)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0, 0, 1, 1), xlim=(0, 432), ylim=(0, 432))
    return Labels(axes)


def put(labels: Labels, above: bool = False) -> tuple[float, float]:
    """How far off words are put in the middle [points]."""
    labels.put("CAM02", 216, 216, above=above)
    (word,) = [t for t in labels.axes.texts if t.get_text()]
    at: tuple[float, float] = word.xyann  # type: ignore[attr-defined]
    return at


def test_a_word_is_not_led_to_its_place_across_another_mark() -> None:
    """All near sides are taken, right and left by a mark: only above and below the way is free."""
    labels = bare_labels()
    sides = [(x, y) for x in (-16, 16) for y in (-12, 12)]
    labels.keep_free([(216 + x, 216 + y) for x, y in (*sides, (-14, 0), (14, 0))], 5.0)
    assert put(labels) == (0, 22)


def test_the_name_of_an_area_is_over_it_though_it_must_go_higher() -> None:
    labels = bare_labels()
    labels.keep_free([(216 + 9, 216 + 12)], 3.0)
    assert put(labels, above=True) == (0, 22)
    assert put(bare_labels(), above=True) == (0, 8)


def test_a_height_that_the_edge_or_the_needles_cut_is_not_written() -> None:
    axes = DRAWN["areas"]().axes[0]
    low, _ = corner(axes)
    places = ((0.3, 0.5), (0.99, 0.5), (low[0] + 0.01, low[1] - 0.01))
    words = [axes.text(*at, "1800 ft", transform=axes.transAxes) for at in places]
    _whole_only(axes, words)
    assert [one in axes.texts for one in words] == [True, False, False]


def test_the_key_of_a_map_is_whole_however_much_it_names() -> None:
    page = map_figure(ground_(), "Gore", None, None, DAY.date(), worked_out_(), in_a_page=True)
    for figure in (DRAWN["map"](), map_figure(ground_(), "Gore"), page):
        figure.canvas.draw()
        key = figure.axes[0].get_legend()
        assert key is not None
        box, paper = key.get_window_extent(), figure.bbox
        assert paper.y0 <= box.y0 and paper.x0 <= box.x0 and box.x1 <= paper.x1
        assert box.y1 <= figure.axes[0].get_window_extent().y0 + 2


def test_a_hub_is_drawn_with_its_region_and_turned_as_it_lies() -> None:
    """An ellipse of 45 by 20 m whose longer half points 60 degrees east of north."""
    from matplotlib.patches import Ellipse

    (drawn,) = [p for p in DRAWN["map"]().axes[0].patches if isinstance(p, Ellipse)]
    tip = drawn.get_patch_transform().transform((0.0, 1.0)) - drawn.get_center()
    assert np.hypot(*tip) == pytest.approx(45.0)
    assert np.degrees(np.arctan2(tip[0], tip[1])) % 180 == pytest.approx(60.0)


def test_a_length_on_the_map_is_in_the_units_of_the_logbook() -> None:
    """1 yd is 0.9144 m exactly (NIST Special Publication 811, appendix B): 50 m are 55 yd."""
    for units, word, meters in (("imperial", "yd", 0.9144), ("metric", "m", 1.0)):
        axes = map_figure(replace(ground_(), units=units), "Gore").axes[0]
        (said,) = [t.get_text() for t in axes.texts if t.get_text().endswith(f" {word}")]
        (bar,) = [line.get_xdata() for line in axes.lines if line.get_linewidth() == 3]
        long = float(np.ptp(bar))
        assert float(said.split()[0]) * meters == pytest.approx(long, abs=0.5)
    assert format_length(50.0, "imperial") == "55 yd"


def test_a_place_is_drawn_as_on_the_page() -> None:
    """The page's strokes of a stand, from its own source, against the table that paper uses."""
    source = (SCRIPTS / "map" / "marks.js").read_text("utf-8")
    said = re.search(r"stand: .*?`(.*?)`", source)
    assert said
    page = re.findall(r"n\(([xy]) ([+-]) (\d+)\)", said[1])
    across, up = ({int(sign + n) for axis, sign, n in page if axis == a} for a in "xy")
    paper = [(round(9 * x), round(-9 * y)) for stroke in PLACES["stand"] for x, y in stroke]
    assert ({x for x, _ in paper}, {y for _, y in paper}) == (across, up)


def test_the_map_shows_both_norths() -> None:
    """The value is that of camsign.magnetism, held against NOAA's in test_sign_magnetism."""
    figure = DRAWN["map"]()
    told = [t.get_text() for t in figure.axes[0].texts]
    assert "N" in told
    assert "M" in told
    east = declination_deg(44.6012, -71.1982, date(2025, 11, 1))
    assert f"compass {-east:.0f}° W" in told


def test_nothing_to_map_is_said() -> None:
    with pytest.raises(InputRefused, match="nothing to map"):
        map_figure(Ground((), (), (), ()), "Gore")
