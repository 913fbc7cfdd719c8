"""What handing on costs: a million detections to Parquet, and a report of a busy area.

Best of several runs in turn. The baseline of the export is DuckDB's own COPY of the same table;
that of the report is the import of matplotlib and the report's charts, drawn from answers at hand.
"""

from __future__ import annotations

import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
import big_logbook
from timing import best_of

from camsign.answers.bedding import bedding
from camsign.answers.calendar import calendar
from camsign.answers.ground import ground
from camsign.answers.scope import scope_of
from camsign.flows.handover.tables import write_tables
from camsign.report import charts
from camsign.report.chart_days import calendar_chart
from camsign.report.gathered import around, write_report
from camsign.report.page import map_of, picture_of
from camsign.report.propertymap import map_figure

pytestmark = pytest.mark.bench

MOST_COPY, MOST_DRAWN, AREA = 1.5, 5.0, "Area 0"
_IMPORT = "import matplotlib.figure, matplotlib.backends.backend_agg"


def test_a_million_detections_to_parquet(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    big_logbook.make(tmp_path / "camsign.duckdb")
    session = big_logbook.opened(tmp_path / "camsign.duckdb")
    bare = f"COPY detections TO '{tmp_path / 'bare.parquet'}' (FORMAT parquet)"
    copy = best_of(lambda: session.con.execute(bare).fetchall())
    spent = best_of(lambda: write_tables(session, tmp_path / "out", "parquet", ("detections",)))
    (rows,) = session.con.execute(
        f"SELECT count(*) FROM '{tmp_path / 'out' / 'detections.parquet'}'"
    ).fetchone() or (0,)
    session.con.close()
    with capsys.disabled():
        print(f"\n{rows} detections to Parquet: {spent:.2f} s, {spent / copy:.2f}x COPY")
    assert rows == 1_000_000
    assert spent / copy < MOST_COPY


def test_a_report_of_an_area_with_ten_thousand_detections(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    big_logbook.make(tmp_path / "camsign.duckdb", 20_000, 20, 400, 1, 20)
    session = big_logbook.opened(tmp_path / "camsign.duckdb")
    (near,) = session.con.execute(
        "SELECT count(*) FROM detections JOIN area_pairs USING (deployment) WHERE distance_m <= ?",
        [session.settings.reach_m],
    ).fetchone() or (0,)
    scope = scope_of(session, areas=[AREA])
    ((area,), there) = (scope.area_ids or ("",)), ground(session)
    shown, days, bed = around(there, area), calendar(session, scope), bedding(session, scope)

    def draw() -> None:
        map_of(map_figure(shown, AREA))
        picture_of(partial(calendar_chart, days), "days")
        picture_of(partial(charts.rose, bed), "ways")

    loaded = best_of(lambda: subprocess.run([sys.executable, "-c", _IMPORT], check=True))
    drawn = best_of(draw)
    spent = best_of(lambda: write_report(session, [AREA], tmp_path / "area.html"))
    session.con.close()
    ratio = (loaded + spent) / (loaded + drawn)
    with capsys.disabled():
        print(f"\nreport, {near} detections in reach: {spent:.2f} s; drawing {drawn:.2f} s, import"
              f" {loaded:.2f} s: {ratio:.2f}x")  # fmt: skip
    assert near > 5_000
    assert ratio < MOST_DRAWN
