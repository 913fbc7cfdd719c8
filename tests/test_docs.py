"""The docs say what the code does: pages made from it, links that lead on, commands that run."""

from __future__ import annotations

import contextlib
import re
import shlex
import subprocess
from pathlib import Path

import made_cards
import pytest
import reference
from page_server import running

from camsign.cli.app import run

ROOT = Path(__file__).resolve().parents[1]
PAGES = sorted([*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md")])


def test_the_top_level_is_the_design_cards_and_nothing_else() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.splitlines()
    if not listed:
        pytest.skip("not a git checkout")
    tops = {name.split("/")[0] for name in listed}
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml"}
    allowed |= {"camsign", "tests", "fixtures", "docs"}
    assert {t for t in tops if not t.startswith(".")} == allowed


@pytest.mark.parametrize("name", sorted(reference.PAGES))
def test_pages_made_from_the_code_are_up_to_date(name: str) -> None:
    assert (ROOT / name).read_text(encoding="utf-8") == reference.PAGES[name](), "poe reference"


def test_files_that_developers_are_sent_to_are_there() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`([\w/]+\.(?:py|sql|toml))`", text))
    there = [str(p.relative_to(ROOT).as_posix()) for p in ROOT.glob("[ct]*/**/*.*")]
    assert len(named) > 3
    assert [n for n in named if not any(f"/{t}".endswith(f"/{n}") for t in there)] == []


def test_functions_that_developers_are_sent_to_are_there() -> None:
    text = (ROOT / "docs" / "design.md").read_text(encoding="utf-8")
    named = re.findall(r"`([\w/]+\.py):(\w+)`", text)
    assert len(named) > 15
    files = {file: (ROOT / "camsign" / file).read_text(encoding="utf-8") for file, _ in named}
    assert [f"{file}:{name}" for file, name in named if f"def {name}(" not in files[file]] == []


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_links_lead_somewhere(page: Path) -> None:
    text = re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    for target in re.findall(r"\]\(([^)#]+)[^)]*\)", text):
        if not re.match(r"[a-z]+:", target):
            assert (page.parent / target).exists(), f"{page.name} links to {target}"


def test_every_package_has_its_line_saying_why() -> None:
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = list(project["dependencies"])
    for extra in project["optional-dependencies"].values():
        wanted += extra
    page = (ROOT / "docs/dependencies.md").read_text(encoding="utf-8")
    said = set(re.findall(r"[\w.-]+", page.replace("|", " ")))
    for requirement in wanted:
        name = re.match(r"[\w.-]+", requirement)
        assert name is not None
        assert name[0] in said, f"docs/dependencies.md does not say why {name[0]}"


def said_commands() -> list[tuple[str, list[str]]]:
    """Each line of the pages' code, and each word set as code, that is a command of ours."""
    found = []
    for page in PAGES:
        if page.name == "commands.md":
            continue
        text = page.read_text(encoding="utf-8")
        blocks = "\n".join(re.findall(r"```[a-z]*\n(.*?)```", text, re.DOTALL))
        plain = re.sub(r"```.*?```", "", text, flags=re.DOTALL)
        lines = re.findall(r"^(?:\$ )?(camsign [a-z].*)$", blocks, re.MULTILINE)
        lines += re.findall(r"`(camsign [a-z][^`]*)`", plain)
        for line in lines:
            with contextlib.suppress(ValueError):  # a part of a line, an apostrophe
                found.append((page.name, shlex.split(line, comments=True)[1:]))
    return found


def test_every_command_that_a_page_shows_is_there_with_its_options() -> None:
    helps = (ROOT / "docs/commands.md").read_text(encoding="utf-8")
    options: dict[str, set[str]] = {}
    for part in re.split(r"^Usage: camsign ", helps, flags=re.MULTILINE)[1:]:
        usage = re.split(r" [\[{<A-Z]|\n", part, maxsplit=1)[0]
        options[usage] = set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", part))
    options["hang"] = options["hang camera"]  # `hang CAM07` is short for it
    everywhere = {"--logbook", "--version", "--help"}
    shown = said_commands()
    assert len(shown) > 100
    wrong = []
    for page, words in shown:
        at = 2 if words[0] == "--logbook" else 0
        depth = next((n for n in (3, 2, 1) if " ".join(words[at : at + n]) in options), 0)
        said = {w.split("=")[0] for w in words if re.match(r"--[a-z]", w)}
        unknown = said - options.get(" ".join(words[at : at + depth]), set()) - everywhere
        group = len(words) == 1 and any(known.startswith(f"{words[0]} ") for known in options)
        if not (depth or group) or unknown:
            wrong.append((page, " ".join(words), unknown))
    assert wrong == []


SERVED = ("/tonight", "/woods", "/sort", "/map", "/areas", "/bucks", "/cards")
LINKS = r'href="(/(?:bucks|cards)/[^"#?]+)"'


def everyday() -> list[list[str]]:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    block = text.split("## Every day")[1].split("```")[1]
    return [shlex.split(line, comments=True)[1:] for line in block.strip().splitlines()]


def test_the_readmes_everyday_lines_run_in_order(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Only the card's path, the handheld's file and the two frames are replaced by what is here."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("CAMSIGN_LOGBOOK", raising=False)
    card = made_cards.card(tmp_path / "CARD", 4)
    waypoint = '<wpt lat="44.62" lon="-71.235"><time>2025-08-10T12:00:00Z</time><name>rub NE</name>'
    text = f'<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1">{waypoint}</wpt></gpx>'
    (tmp_path / "handheld.gpx").write_text(text, encoding="utf-8")
    assert run(["buck", "list"]) == 2  # no logbook yet
    lines = everyday()
    assert [words[0] for words in lines][:3] == ["init", "import", "hang"]
    for words in lines:
        given = [str(card) if w == "/media/me/CARD" else w for w in words]
        if words[0] == "tag":
            capsys.readouterr()
            assert run(["frames", "--csv"]) == 0
            frames = [r.split(",")[0] for r in capsys.readouterr().out.splitlines()[1:3]]
            given = ["tag", "Old Quarrel", *frames, "--burst"]
        assert run(given) == 0, (words, capsys.readouterr())
    out = capsys.readouterr().out
    assert "Undone: added area" in out or "Undone:" in out
    with running(tmp_path / lines[0][1], tmp_path) as server:
        pages = {path: server.ask("GET", path).status for path in SERVED}
        links = [*re.findall(LINKS, server.ask("GET", "/bucks").body.decode())]
        links += [*re.findall(LINKS, server.ask("GET", "/cards").body.decode())]
        pages |= {path: server.ask("GET", path).status for path in links}
    assert len(pages) >= len(SERVED) + 2 and set(pages.values()) == {200}, pages


def test_the_readme_says_each_command_once_complete() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for mark, ending in (("demo", "camsign demo"), ("test", "pytest -n 2")):
        command = text.split(f"<!-- {mark} command -->")[1].split("```")[1].strip()
        assert command.startswith("python3 -m venv .venv && ")
        assert command.endswith(ending)
        assert "\n" not in command


def test_no_page_or_source_names_what_is_not_ours() -> None:
    """Words that must not stand in the project; each is spelled apart so as not to find itself."""
    bad = re.compile("|".join(("tran" + "script", "seed " + "document", "FIX" + "ME", "TO" + "DO")))
    for path in [*PAGES, *ROOT.glob("camsign/**/*.py"), *ROOT.glob("camsign/**/*.sql")]:
        assert not bad.search(path.read_text(encoding="utf-8")), path
