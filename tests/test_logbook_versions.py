"""Versions that cannot lie: what is kept follows the code that made it, and nothing else."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from camsign.logbook import versions

PACKAGE = versions.PACKAGE


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A copy of the package, to be changed."""
    without = shutil.ignore_patterns("__pycache__", "static", "demo")
    shutil.copytree(PACKAGE, tmp_path / "lib" / "camsign", ignore=without)
    return tmp_path / "lib" / "camsign"


def python(copy: Path, *words: str) -> str:
    environment = os.environ | {"PYTHONPATH": str(copy.parent), "PYTHONDONTWRITEBYTECODE": "1"}
    command = [sys.executable, "-P", "-c", *words]
    done = subprocess.run(
        command, env=environment, cwd=copy.parent, capture_output=True, text=True, check=True
    )
    return done.stdout


VERSIONS = """
from camsign.logbook import versions
for name in ("derive.opening", "pixels.changes", "pixels.look", "pixels.viewmoves"):
    print(versions.version_of("camsign." + name))
"""


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    """A copy of the package whose files are put back, and its versions."""
    home = tmp_path_factory.mktemp("whole")
    without = shutil.ignore_patterns("__pycache__", "static", "demo", "templates")
    shutil.copytree(PACKAGE, home / "camsign", ignore=without)
    return home / "camsign", python(home / "camsign", VERSIONS).split()


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("file", "changed"),
    [
        ("pixels/scores.py", [True, False, False, False]),
        ("logbook/tags.sql", [True, False, False, False]),
        ("sign/aging.toml", [True, False, False, False]),
        ("units.py", [True, False, False, False]),
        ("pixels/planes.py", [False, True, False, True]),
        ("pixels/info_strip.py", [False, False, True, False]),
        ("cli/show.py", [False, False, False, False]),
    ],
)
def test_a_change_beneath_is_another_version_and_no_other_is(
    whole: tuple[Path, list[str]], file: str, changed: list[bool]
) -> None:
    copy, before = whole
    text = (copy / file).read_text(encoding="utf-8")
    remark = "\n-- changed\n" if file.endswith(".sql") else "\n# changed\n"
    (copy / file).write_text(text + remark, encoding="utf-8")
    after = python(copy, VERSIONS).split()
    (copy / file).write_text(text, encoding="utf-8")
    assert [a != b for a, b in zip(before, after, strict=True)] == changed


SAY = """
import sys
from pathlib import Path
import camsign
from camsign.derive.opening import open_logbook
from camsign.logbook import folder
from camsign.logbook.edits import Subject, TagFrames
book = folder.Folder(Path(sys.argv[1]))
if not book.root.exists():
    book = folder.create(book.root, "UTC", None, "metric")
    with open_logbook(book) as session:
        session.say("tagged", [TagFrames(Subject("deer"), ["0" * 16])])
with open_logbook(book) as session:
    print(camsign.__file__, session.con.execute("SELECT count(*) FROM tags").fetchone()[0])
"""


@pytest.mark.thorough
def test_the_database_is_made_again_when_a_module_beneath_changes(
    copy: Path, tmp_path: Path
) -> None:
    file, count = python(copy, SAY, str(tmp_path / "book")).split()
    assert Path(file).parent == copy and count == "1"
    sql = copy / "logbook" / "tags.sql"
    sql.write_text(sql.read_text().replace("WHERE t.act NOT IN", "WHERE false AND t.act NOT IN"))
    assert python(copy, SAY, str(tmp_path / "book")).split()[1] == "0"


def test_a_kept_answer_that_is_nonsense_is_found_again(tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    for text in ("", "[]", '{"stamp": "a"}', '{"stamp": "a", "versions": 3}'):
        path.write_text(text)
        assert versions._kept(path, "a") == {}


def test_every_sql_file_beside_the_derived_steps_counts() -> None:
    files = versions.files_of("camsign.derive.opening")
    assert {p.name for p in (PACKAGE / "derive").glob("*.sql")} <= {p.name for p in files}
    assert PACKAGE / "logbook" / "schema.sql" in files
