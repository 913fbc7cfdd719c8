"""Which buck is this: the quick answer says the same as the view that follows merges in SQL."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from camsign.derive.opening import open_logbook
from camsign.errors import UsageError
from camsign.logbook.folder import create
from camsign.logbook.named import known_bucks
from camsign.logbook.session import Session

NAMES = st.sampled_from(["Ferrous", "ferrous", "Slim", None])
IDS = [f"b-{i}" for i in range(5)]
BUCKS = st.dictionaries(
    st.sampled_from(IDS), st.tuples(NAMES, st.sampled_from([*IDS, None, None])), min_size=1
)


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    folder = create(tmp_path / "b", "America/New_York", (44.2, -71.4), "metric")
    with open_logbook(folder) as opened:
        yield opened


@pytest.mark.thorough
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(bucks=BUCKS)
def test_the_same_as_the_view(
    session: Session, bucks: dict[str, tuple[str | None, str | None]]
) -> None:
    con = session.con
    con.execute("DELETE FROM bucks")
    for buck, (name, into) in bucks.items():
        row = [buck, name, into if into != buck else None]
        con.execute("INSERT INTO bucks (buck, name, merged_into) VALUES (?, ?, ?)", row)
    known = known_bucks(session)
    rows = con.execute("SELECT buck, buck_id, name FROM bucks_now").fetchall()
    rows = [row for row in rows if row[0] in bucks]  # the view has ids nobody named too
    assert known.now == {buck: now for buck, now, _ in rows}
    assert {buck: known.name(buck) for buck in bucks} == {buck: name for buck, _, name in rows}


def test_a_present_name_goes_before_a_former_one(session: Session) -> None:
    con = session.con
    con.execute("INSERT INTO bucks (buck, name, merged_into) VALUES ('b-1', 'Slim', 'b-2')")
    con.execute("INSERT INTO bucks (buck, name) VALUES ('b-2', 'Ferrous'), ('b-3', 'Slim')")
    known = known_bucks(session)
    assert (known.find("slim"), known.find("b-1")) == ("b-3", "b-2")
    with pytest.raises(UsageError, match="did you mean 'Ferrous'"):
        known.find("Ferous")
