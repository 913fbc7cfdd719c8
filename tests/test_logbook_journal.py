"""The journal: what was acknowledged stays, what was torn is as if never said."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from camsign.errors import CamsignError
from camsign.logbook import folder, journal, memory
from camsign.logbook.edits import SetFields, Subject, TagFrames, TakeBack, UntagFrames, to_json


@pytest.fixture
def book(tmp_path: Path) -> folder.Folder:
    return folder.create(tmp_path / "book", "America/New_York", None, "imperial")


def the_file(book: folder.Folder) -> Path:
    return book.journal / f"{book.writer}.jsonl"


def say(book: folder.Folder, text: str = "hung CAM01") -> journal.Line:
    return journal.append(book, text, [SetFields("buck", "b-1", {"name": text})])


def test_a_line_is_plain_json_with_the_documented_keys(book: folder.Folder) -> None:
    say(book)
    raw = json.loads(the_file(book).read_text(encoding="utf-8"))
    assert list(raw) == ["sum", "v", "writer", "n", "at", "act", "what", "edits"]
    assert raw["edits"] == [{"set": "buck", "id": "b-1", "to": {"name": "hung CAM01"}}]


def test_lines_count_up_and_stamps_grow_even_with_a_clock_behind(book: folder.Folder) -> None:
    ahead = "2999-01-01T00:00:00.000Z-00004"
    lines = [say(book), journal.append(book, "x", [TakeBack(["a"])], seen=ahead), say(book)]
    assert [line.n for line in lines] == [1, 2, 3]
    assert lines[1].at == "2999-01-01T00:00:00.000Z-00005"
    assert lines[0].at < lines[1].at < lines[2].at


json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=4,
)


@settings(max_examples=40, deadline=None)
@given(st.text(), st.dictionaries(st.text(min_size=1), json_values, max_size=3))
def test_what_is_encoded_is_read_back(what: str, fields: dict[str, object]) -> None:
    what = what.encode("utf-8", "replace").decode()
    line = journal.Line(
        "w", 3, journal.FIRST, "a1", what, [{"set": "buck", "id": "b", "to": {}}], 1
    )
    text = json.loads(json.dumps(fields).encode("utf-8", "replace"))
    line.edits[0]["to"] = text
    raw = journal.encode(line)
    assert raw.endswith(b"\n") and raw.count(b"\n") == 1
    assert journal.decode(raw[:-1]) == line


def oddly_tagged() -> list[bytes]:
    """Lines that are tags of frames, or nearly, each with a sum that fits."""
    doe, deer = Subject("animal", species="deer", sex="female"), Subject("deer", buck_id="b-1")
    two = ["169b5b823c62b64c", "ab71fc4c8a1c4d62"]
    said = [
        TagFrames(doe, two), TagFrames(deer, two[:1], 2, 181.5, "unsure"),
        TagFrames(Subject("nothing"), two), TagFrames(doe, []), TagFrames(doe, ["not a frame"]),
        TagFrames(Subject("\u00e9lan"), two), TagFrames(Subject("a \\ b"), two),
        UntagFrames(None, two),
    ]  # fmt: skip
    whole = [
        journal.encode(
            journal.Line("0f" * 6, n, journal.FIRST, f"{n:012x}", "a doe", [to_json(edit)], 1)
        )
        for n, edit in enumerate(said, 1)
    ]
    changes = [
        (b'"v":1', b'"v":2'), (b'"n":1', b'"n":01'), (b'"n":1', b'"n":1.0'), (b'"n":1', b'"n":0'),
        (b"female", b"fem\xffle"), (b"female", b"fem\xc3\xa9le"), (b'"a doe"', b'"a \\u0064oe"'),
        (b'"a doe"', b'"a \xc3\xa9"'), (b'"a doe"', b'"a\tdoe"'), (b'"count":1', b'"count":-1'),
        (b'"count":1', b'"count":1.5'), (b'"count":1', b'"count":NaN'), (b'"count":1', b'"what":1'),
        (b'"what":"animal",', b""), (b'"count":1', b'"count":{}'), (b'"frames":[', b'"frames":[,'),
        (b'","ab71', b'""ab71'), (b'"]}]}', b'",]}]}'), (b'"]}]}', b'"]}],"more":1}'),
        (b'"at":"', b'"at":"9'), (b'"at":"1', b'"at":"2'), (b"-01-01T", b"-02-31T"),
        (b'"count":1', b'"count":1,"says":"more"'), (b'"female"', b"null"),
    ]  # fmt: skip
    bodies = [line[26:-1] for line in whole] + [whole[0][26:-1].replace(*pair) for pair in changes]
    return [b'{"sum":"' + journal._sum(body) + b'",' + body for body in bodies]


def test_what_is_read_the_short_way_is_what_the_long_way_reads(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = oddly_tagged()
    lines += [lines[0].replace(b"doe", b"dog"), lines[0][:-1], b"", b"\0" * 40]
    path = tmp_path / "w.jsonl"
    path.write_bytes(b"".join(line + b"\n" for line in lines))
    short = journal.read(path, 0, 5)
    plain = [journal._plain(line, 0) is not None for line in lines]
    assert plain[:3] == [True] * 3 and not any(plain[4:8]) and sum(plain) < len(lines) / 2
    monkeypatch.setattr(journal, "_plain", lambda raw, number: None)
    assert short == journal.read(path, 0, 5)
    assert [line.number for line in short.lines] == [
        line.number for line in journal.read(path, 0, 5).lines
    ]


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=30, deadline=None
)
@given(st.data())
def test_any_flipped_bit_is_noticed_and_costs_only_its_line(
    book: folder.Folder, data: st.DataObject
) -> None:
    path = the_file(book)
    path.unlink(missing_ok=True)
    (book.cache / memory.LINES).unlink(missing_ok=True)
    for i in range(3):
        say(book, f"line {i}")
    whole = bytearray(path.read_bytes())
    at = data.draw(st.integers(0, len(whole) - 1))
    whole[at] ^= 1 << data.draw(st.integers(0, 7))
    path.write_bytes(whole)
    reading = journal.read(path)
    assert 1 <= len(reading.lines) <= 2
    assert reading.troubles or reading.torn


def test_every_single_flipped_bit_of_a_line_is_noticed(book: folder.Folder) -> None:
    say(book, "first")
    raw = the_file(book).read_bytes()[:-1]
    for at in range(len(raw) * 8):
        flipped = bytearray(raw)
        flipped[at // 8] ^= 1 << at % 8
        with pytest.raises(ValueError, match=r"checksum"):
            journal.decode(bytes(flipped))


@pytest.mark.parametrize("cut", [1, 5, 40])
def test_a_torn_end_is_recognized_and_the_next_line_takes_its_place(
    book: folder.Folder, cut: int
) -> None:
    """A line that was never acknowledged: this machine does not remember that it was said."""
    say(book, "first")
    kept = (book.cache / memory.LINES).read_bytes()
    say(book, "second")
    (book.cache / memory.LINES).write_bytes(kept)
    path = the_file(book)
    path.write_bytes(path.read_bytes()[:-cut])
    reading = journal.read(path)
    assert [line.what for line in reading.lines] == ["first"] and reading.torn
    assert not reading.troubles
    assert say(book, "third").n == 2
    assert [line.what for line in journal.read(path).lines] == ["first", "third"]


@pytest.mark.parametrize("cut", [2, 5, 40])
def test_an_acknowledged_line_that_lost_bytes_stays_and_keeps_its_number(
    book: folder.Folder, cut: int
) -> None:
    say(book, "first")
    say(book, "second")
    path = the_file(book)
    left = path.read_bytes()[:-cut]
    path.write_bytes(left)
    assert say(book, "third").n == 3
    assert path.read_bytes().startswith(left)
    reading = journal.read(path)
    assert [(line.n, line.what) for line in reading.lines] == [(1, "first"), (3, "third")]
    assert [number for number, _ in reading.troubles] == [2]


def test_a_memory_that_is_nonsense_is_none(book: folder.Folder) -> None:
    say(book, "first")
    for text in ("", "[]", '{"x": "y"}', "{" * 5000, '{"a": -1}'):
        (book.cache / memory.LINES).write_text(text, encoding="utf-8")
        assert memory.counts(book, memory.LINES) == {}
    assert say(book, "second").n == 2


def test_zeros_that_a_power_cut_left_are_torn_too(book: folder.Folder) -> None:
    say(book, "first")
    with the_file(book).open("ab") as f:
        f.write(b"\0" * 512)
    assert journal.read(the_file(book)).torn
    assert say(book, "second").n == 2


def test_a_last_line_longer_than_any_window_is_found(book: folder.Folder) -> None:
    frames = [f"{i:016x}" for i in range(200_000)]
    tag = TagFrames(Subject("buck", "b-1"), frames, travel_deg=90.0)
    assert journal.append(book, "many", [tag]).n == 1
    assert say(book).n == 2
    assert journal.append(book, "few", [UntagFrames(None, frames[:1])]).n == 3
    assert len(journal.read(the_file(book)).lines) == 3


def test_a_full_disk_says_so_and_says_nothing(
    book: folder.Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    say(book, "first")
    before = the_file(book).read_bytes()

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CamsignError, match=r"nothing was noted.*No space left") as caught:
        say(book, "second")
    assert caught.value.exit_code == 3
    assert the_file(book).read_bytes() == before


def test_whatever_was_acknowledged_survives_a_kill(book: folder.Folder, tmp_path: Path) -> None:
    """A process that says things as fast as it can is killed; what it reported is all there."""
    code = (
        "import sys; from pathlib import Path\n"
        "from camsign.logbook import folder, journal\n"
        "from camsign.logbook.edits import SetFields\n"
        "book = folder.Folder(Path(sys.argv[1]))\n"
        "while True:\n"
        "    line = journal.append(book, 'x' * 3000, [SetFields('buck', 'b', {'name': 'n'})])\n"
        "    print(line.act, flush=True)\n"
    )
    out = tmp_path / "out"
    with out.open("w") as stream:
        process = subprocess.Popen([sys.executable, "-c", code, str(book.root)], stdout=stream)
        until = time.monotonic() + 10
        while out.stat().st_size < 500 and time.monotonic() < until:
            time.sleep(0.01)
        process.send_signal(signal.SIGKILL if os.name != "nt" else signal.SIGTERM)
        process.wait()
    acknowledged = out.read_text().split("\n")[:-1]
    assert len(acknowledged) > 10
    reading = journal.read(the_file(book))
    assert set(acknowledged) <= {line.act for line in reading.lines}
    assert not reading.troubles
    assert say(book).n == len(reading.lines) + 1
