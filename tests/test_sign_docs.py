"""docs/sign.md says what the code does: its aging table, its numbers, its drawing."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from camsign.cli.app import run
from camsign.logbook.settings import Settings, read, render
from camsign.logbook.things import SIGN_KINDS
from camsign.sign import chains, proposals, radiants, size
from camsign.sign.aging import SUMMER, WINTER, rows, state_of, table
from camsign.sign.kinds import MEASURES
from camsign.sign.origin_likelihood import Law

DOCS = Path(__file__).resolve().parents[1] / "docs"
TEXT = (DOCS / "sign.md").read_text(encoding="utf-8")


HOME = Settings(id="x", tz="UTC")


def made(row: dict[str, object]) -> str:
    """Write what a row of aging.toml says as docs/sign.md writes it."""
    if row.get("nothing"):
        return "can't be: as no look"
    if "seasons_back" in row:
        return f"one of the {row['seasons_back']} falls before this one"
    least = ""
    if "days_at_least" in row:
        least = (
            f", {row['days_at_least']} {'day' if row['days_at_least'] == 1 else 'days'} ago or more"
        )
    if "days" in row:
        return f"{row['days']} days ago at most{least}"
    trees: dict[str, dict[str, str]] = row.get("species", {})  # type: ignore[assignment]
    other = f" ({', '.join(trees)}: to {next(iter(trees.values()))['to']})" if trees else ""
    begins = f"{row['from']}" if "from" in row else "season's first day"
    if "until_seen" in row:
        begins = begins if row.get("seasons", 1) == 1 else f"any of {row['seasons']} falls"
        return f"{begins} until seen{least}"
    if "from" in row:
        return f"{begins} to {row.get('to', 'season’s end')}{other}"
    many = row.get("seasons", 1)
    return f"{'the latest fall' if many == 1 else f'one of the latest {many} falls'}{least}"


def aging_table() -> list[str]:
    """Give docs/sign.md's table of looks, a line a row, from aging.toml."""
    lines = []
    for kind in SIGN_KINDS:
        unlooked = table()["unlooked"].get(
            kind, {"days": 30, "standing": "common practice, no source"}
        )
        of_kind = {"none noted": {"words": [], **unlooked}, **rows(kind, HOME)}
        for state, row in of_kind.items():
            seen = [made(row), *(made(row.get(when, row)) for when in (WINTER, SUMMER))]
            if kind == "shed":
                seen = [text.replace("fall", "winter") for text in seen]
            seen[1:] = ["same" if text == seen[0] else text for text in seen[1:]]
            cells = (kind, state, ", ".join(row["words"]), *seen, row["standing"])
            lines.append(f"| {' | '.join(cells)} |")
    return lines


def test_the_aging_table_is_the_codes() -> None:
    found = TEXT.split("<!-- aging -->")[1].split("<!-- end -->")[0].strip().splitlines()[2:]
    assert found == aging_table()


def test_every_row_says_what_it_rests_on() -> None:
    every = [row for kind in SIGN_KINDS for row in rows(kind, HOME).values()]
    every += [*table()["unlooked"].values(), *table()["season"].values()]
    assert all(
        "common practice" in r["standing"] or re.search(r"\(.*\d{4}|as ", r["standing"])
        for r in every
    )


def test_every_measure_is_named() -> None:
    for kind, measures in MEASURES.items():
        (row,) = re.findall(rf"^\| {kind} \|(.*)\|$", TEXT, re.M)[:1]
        assert all(f"`{name}`" in row for name in measures)


def test_the_numbers_are_the_codes() -> None:
    for (mature, young), words in (
        (size.TALL, "top at waist height"),
        (size.THICK, f"trunk {size.THICK_M * 100:.0f} cm"),
        (size.BROKEN, "trunk broken"),
        (size.TINES, f"tine marks {size.LONG_TINES_M * 100:.0f} cm"),
    ):
        assert re.search(rf"\| {words}.*\| {mature:.0%}.*\| {young:.0%}", TEXT)
    law = Law()
    assert f"({law.kappa:g}, {law.odds:g}, {law.length_m:g} m, {law.inward:g})" in TEXT
    assert (
        f"at most {chains.STEP_M:.0f} m apart" in TEXT and f"within {chains.TURN_DEG:.0f}°" in TEXT
    )
    assert (radiants.OVER_AXIS, radiants.LEAST_SECTORS, radiants.FALSE_SHARE) == (1.0, 3, 0.1)
    assert proposals.LEAST_AGREEING == 8 and size.MOST == 5.0


def test_a_new_logbook_names_the_settings_of_the_field(tmp_path: Path) -> None:
    path = tmp_path / "logbook.toml"
    path.write_text(render("0123456789ab", "UTC", None, "metric"), encoding="utf-8")
    settings = read(path)
    assert isinstance(settings, Settings) and settings.waist_m == 1.0
    for name in ("bearings", "bare_side_rule", "waist"):
        assert f"\n{name} = " in path.read_text(encoding="utf-8") and name in TEXT
    assert state_of("rub", "green", settings) == "fresh"


def test_the_drawing_is_there() -> None:
    assert "pictures/rub.svg" in TEXT
    assert (DOCS / "pictures" / "rub.svg").stat().st_size > 1000


def test_the_lines_that_take_down_sign_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["init", str(tmp_path / "book"), "--home", "44.62,-71.23", "--json"]) == 0
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(tmp_path / "book"))
    lines = [line for line in TEXT.splitlines() if line.startswith("camsign sign add ")]
    for line in lines:
        assert run(shlex.split(line)[1:]) == 0, line
    assert len(lines) == 3
    assert "rubbed side faces SW (225°), so he was headed NE" in capsys.readouterr().out


def test_every_command_and_option_named_is_one() -> None:
    page = (DOCS / "commands.md").read_text(encoding="utf-8")
    for words in re.findall(r"camsign ((?:sign|habit|area|hang) [a-z]+|import)\b", TEXT):
        assert f"## camsign {words}\n" in page, words
    for option in re.findall(r"(?<![\w-])--[a-z][a-z-]+", TEXT):
        assert f"{option} " in page, option
