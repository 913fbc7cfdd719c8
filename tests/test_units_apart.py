"""One logbook shows one system of units: commands and pages are searched for the other one."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from page_land import land_book
from page_server import running

from camsign.cli.app import run

METRIC = re.compile(
    r"\d\s?(?:m|km|cm|mm|ha)\b(?!/)|\b(?:hectares?|kilomet\w+|met(?:er|re)s?|centimet\w+)\b"
    r"|\b(?:a|per) (?:ha|km)\b"
)
IMPERIAL = re.compile(r"\d\s?(?:yd|mi|ft)\b|\d in(?=[,.;)]|$)|\b(?:acres?|yards?|miles?|inch\w*)\b")
BARE_BEARING = re.compile(r"(?<![(\d.,] )(?<![(\d.])\b\d{1,3}°(?!\s*\d)")

COMMANDS = (
    "sign list", "sign lines --doubtful", "sign show s-00000", "sign alike",
    "area list", "area propose", "place list", "near", "visits", "bedding", "rivals", "compare",
    "lately", "makers s-00000", "deployments", "bucks", "clock audit",
)  # fmt: skip
PAGES = ("/woods", "/map", "/areas", "/areas/a-bed", "/bucks", "/cards")
PARTS = ("short", "who", "when", "bed", "rivals", "sign", "near")


def book(tmp_path: Path, units: str) -> Path:
    from camsign.logbook.edits import SetFields

    made = land_book(tmp_path / "book")
    measures = {"top_m": 1.1, "diameter_m": 0.12, "far_marks_m": 0.3}
    made.say("measured", [SetFields("sighting", "g-00000", {"measures": measures})])
    root = made.folder.root
    toml = root / "logbook.toml"
    text = re.sub(r'units = "\w+"', f'units = "{units}"', toml.read_text(encoding="utf-8"))
    toml.write_text(text, encoding="utf-8")
    return root


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("units", "other"), [("imperial", METRIC), ("metric", IMPERIAL)], ids=["imperial", "metric"]
)
def test_commands_and_pages_show_one_system(
    units: str,
    other: re.Pattern[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    root = book(tmp_path, units)
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(root))
    said = ["sign", "add", "bed", "--at", "44.1201,-71.5001", "--on", "2025-11-02", "--measure"]
    long = "length=52in" if units == "imperial" else "length=132cm"
    run([*said, long])
    told = {"sign add bed": capsys.readouterr().out}
    for words in COMMANDS:
        run(words.split())
        told[words] = "".join(capsys.readouterr())
    with running(root, tmp_path) as server:
        for page in (*PAGES, *(f"/areas/a-bed/{part}" for part in PARTS)):
            reply = server.ask("GET", page)
            assert reply.status == 200, page
            told[page] = re.sub(r"<[^>]*>", " ", reply.body.decode())
        told["/map/lines"] = server.ask("GET", "/map/lines").body.decode()
    own = IMPERIAL if units == "imperial" else METRIC
    assert own.search(told["sign show s-00000"]) and own.search(told["area list"])
    found = {
        where: sorted({text[max(m.start() - 25, 0) : m.end() + 10] for m in other.finditer(text)})
        for where, text in told.items()
    }
    found["/map/lines"] = [f for f in found["/map/lines"] if "_m" not in f]
    assert {where: what for where, what in found.items() if what} == {}
    bare = {w: BARE_BEARING.findall(t) for w, t in told.items() if w not in PAGES}
    assert {where: what for where, what in bare.items() if what} == {}
