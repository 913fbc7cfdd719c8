"""logbook.toml: one table of settings; what does not fit is named and costs only itself."""

from __future__ import annotations

import dataclasses
import random
import tomllib
from pathlib import Path

import pytest

from camsign.cli.app import run
from camsign.errors import Damaged, UsageError
from camsign.logbook import settings
from camsign.logbook.settings import Settings, read, render

PLAIN = Settings(id="0123456789ab", tz="America/New_York")


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "logbook.toml"
    path.write_text(f'id = "0123456789ab"\ntz = "America/New_York"\n{text}\n', encoding="utf-8")
    return path


def test_the_file_that_init_writes_holds_the_defaults_and_nothing_unknown(tmp_path: Path) -> None:
    path = tmp_path / "logbook.toml"
    path.write_text(render(PLAIN.id, PLAIN.tz, None, "imperial"), encoding="utf-8")
    assert read(path) == PLAIN


def test_what_the_file_keeps_as_a_comment_is_read_too(tmp_path: Path) -> None:
    """Every commented line of the template is a setting that is known."""
    text = render(PLAIN.id, PLAIN.tz, (44.1, -71.2), "metric")
    lines = text.splitlines()
    for i, line in enumerate(lines):
        bare = line.removeprefix("# ")
        try:
            assert bare != line and tomllib.loads(bare)
        except (tomllib.TOMLDecodeError, AssertionError):
            continue
        lines[i] = bare
    path = tmp_path / "logbook.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    found = read(path)
    assert found.troubles == ()
    assert found.phases and found.aging and found.camera_rules


@pytest.mark.parametrize(
    ("text", "attribute", "words"),
    [
        ('units = "cubits"', "units", "none of imperial, metric"),
        ('home = ["north", "west"]', "home", "two numbers"),
        ("home = [95, 0]", "home", "latitude 95"),
        ("home = [nan, 0]", "home", "latitude nan"),
        ('[seasons]\nstart = "13-40"', "season_start", "month-day"),
        ("[seasons]\nother_sign_days = 1e9", "other_sign_days", "not between 1 and 3660"),
        ('[seasons]\nrubbing = ["09-01"]', "rubbing", "two days"),
        ('[answers]\nvisit_gap = "soon"', "visit_gap_s", "'soon'"),
        ("[answers]\nvisit_gap = true", "visit_gap_s", "number"),
        ("[answers]\nreach_m = nan", "reach_m", "not between"),
        ("[answers]\nreach_m = inf", "reach_m", "not between"),
        ("[answers]\nreach_m = -5", "reach_m", "not between"),
        ('[answers]\nreach_m = "200"', "reach_m", "number from 0 to 20000"),
        ("[answers]\nmature_age = 1e400", "mature_age", "not between"),
        ("[pictures]\nburst_gap_s = -inf", "burst_gap_s", "not between"),
        ("[pictures]\ntime_in_name = [3]", "time_in_name", "list of texts"),
        ('[field]\nbearings = "grid"', "bearings", "none of true, magnetic"),
        ('[field]\nbare_side_rule = "no"', "bare_side_rule", "neither true nor false"),
        ('[field]\nwaist = "9m"', "waist_m", "not between 0.5 and 1.5"),
        ("[ruler]\nears_in = [16, 13]", "ears_in", "smaller length first"),
        ('[phases]\nrut = ["10-15"]', "phases", "two days"),
        ('[phases]\nrut = ["10-15", "02-30"]', "phases", "month-day"),
        ('[ageing.rub.dry]\nfrom = "x"', "aging", "rub.dry"),
        ("[ageing.rub.dry]\ndayz = 3", "aging", "'dayz'"),
        ("[ageing.rub.dry]\ndays = -3", "aging", "not between"),
        ("[ageing]\nrub = 3", "aging", "table"),
        ('[[camera_id]]\nfield = "comment"', "camera_rules", "field and pattern"),
        ("camera_id = 3", "camera_rules", "field and pattern"),
    ],
)
def test_a_value_that_does_not_fit_is_the_usual_one_and_named(
    tmp_path: Path, text: str, attribute: str, words: str
) -> None:
    found = read(written(tmp_path, text))
    assert getattr(found, attribute) == getattr(PLAIN, attribute)
    (line,) = found.troubles
    assert words in line and "\n" not in line
    assert dataclasses.replace(found, troubles=()) == PLAIN


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "[answers]\nreach_mm = 20",
            "'reach_mm' under [answers] is no setting; did you mean 'reach_m'",
        ),
        ('[answers]\nvisitgap = "1s"', "did you mean 'visit_gap'"),
        ('[fields]\nbearings = "magnetic"', "'fields' is no setting; did you mean 'field'"),
        ('unit = "metric"', "did you mean 'units'"),
        ("reach_m = 20", "'reach_m' is no setting"),
        ("[zzz]\na = 1", "known here: id, tz, home"),
        ("answers = 3", "write [answers]"),
    ],
)
def test_a_misspelled_setting_is_named_with_the_nearest(
    tmp_path: Path, text: str, words: str
) -> None:
    found = read(written(tmp_path, text))
    (line,) = found.troubles
    assert words in line


def test_every_command_says_so_and_leaves_with_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "book"
    assert run(["init", str(book), "--home", "44.62,-71.23", "--json"]) == 0
    path = book / "logbook.toml"
    path.write_text(path.read_text().replace("reach_m = 200", "reach_mm = nan"), encoding="utf-8")
    for _ in range(2):  # also when the database stands already
        capsys.readouterr()
        assert run(["--logbook", str(book), "history"]) == 1
        assert "did you mean 'reach_m'?" in capsys.readouterr().err
    path.write_text(path.read_text().replace("reach_mm = nan", "reach_m = 150"), encoding="utf-8")
    assert run(["--logbook", str(book), "history"]) == 0


@pytest.mark.parametrize(
    "text", ["", 'tz = "Amercia/New_York"', "tz = 5", 'tz = "../../etc/passwd"']
)
def test_without_a_zone_nothing_is_answered(tmp_path: Path, text: str) -> None:
    path = tmp_path / "logbook.toml"
    path.write_text(f'id = "x"\n{text}\n', encoding="utf-8")
    with pytest.raises(Damaged, match="tz") as caught:
        read(path)
    assert "\n" not in str(caught.value) and "put back" in caught.value.remedy


@pytest.mark.parametrize("text", ['id = "x', "a = " + "[" * 5000, 'id = "a"\nid = "b"'])
def test_a_torn_file_is_damage_and_its_line_is_named(tmp_path: Path, text: str) -> None:
    path = tmp_path / "logbook.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(Damaged, match="not readable as TOML") as caught:
        read(path)
    assert caught.value.exit_code == 5 and "\n" not in str(caught.value)


def test_a_flipped_bit_is_told_or_changes_no_default(tmp_path: Path) -> None:
    """500 flips in a fresh file: an error, a trouble, no effect, or one value plainly another."""
    whole = render(PLAIN.id, PLAIN.tz, (44.1, -71.2), "imperial").encode()
    path, chance = tmp_path / "logbook.toml", random.Random(11)
    path.write_bytes(whole)
    plain = read(path)
    counts = {"refused": 0, "named": 0, "same": 0, "other": 0}
    for _ in range(500):
        flipped = bytearray(whole)
        flipped[chance.randrange(len(whole))] ^= 1 << chance.randrange(8)
        path.write_bytes(flipped)
        try:
            found = read(path)
        except Damaged:
            counts["refused"] += 1
            continue
        if found.troubles:
            counts["named"] += 1
        elif found == plain:
            counts["same"] += 1
        else:
            counts["other"] += 1
            changed = [
                f.name
                for f in dataclasses.fields(settings.Settings)
                if getattr(found, f.name) != getattr(plain, f.name)
            ]
            assert len(changed) == 1, changed
    assert counts["other"] < 50 and counts["named"] > 20, counts


def test_a_move_of_home_leaves_a_file_that_says_so_or_is_refused() -> None:
    new, tz = (45.5, -70.25), "America/Chicago"
    text = render("x", "America/New_York", (44.1, -71.2), "imperial")
    above = text.replace("home = ", "# home = [1, 2]\nhome = ", 1)
    for start in (text, above, render("x", "America/New_York", None, "imperial")):
        raw = tomllib.loads(settings.moved(start, new, tz))
        assert (raw["home"], raw["tz"]) == ([*new], tz)
    assert "# home = [1, 2]" in settings.moved(above, new, tz)
    # Of two comments only the first is a place for it.
    twice = '# home = [1, 2]\n# home = [3, 4]\nid = "w"\ntz = "UTC"\n'
    assert settings.moved(twice, new, tz).splitlines()[1] == "# home = [3, 4]"
    spanning = text.replace("home = [44.1, -71.2]", "home = [\n44.1,\n-71.2,\n]")
    with pytest.raises(UsageError, match="each on one line: home = "):
        settings.moved(spanning, new, tz)
