"""Workers that read the pictures from S3: s3fs, against a server of its protocol (moto's)."""

from __future__ import annotations

import hashlib
import logging
import os
import shutil
import signal
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from urllib.request import urlopen

import pytest

if not os.environ.get("CI"):  # there nothing may be skipped
    for package in ("distributed", "flask_cors", "moto", "s3fs"):
        pytest.importorskip(package)

import s3fs
from moto.server import ThreadedMotoServer
from test_cluster import Club, book_of, forgotten, kept

from camsign.cli.app import run
from camsign.errors import InputRefused
from camsign.flows import cluster as far
from camsign.flows import far_pictures
from camsign.flows.remeasure.look_again import look_again
from camsign.flows.remeasure.originals import Stored, read
from camsign.logbook.cardfacts import LOOKS
from camsign.pixels.decode import Undecodable
from camsign.tags.frames import Which

KEYS = {"AWS_ACCESS_KEY_ID": "club", "AWS_SECRET_ACCESS_KEY": "woods"}
AT = "s3://club/woods"


@pytest.fixture
def store(monkeypatch: pytest.MonkeyPatch) -> Iterator[ThreadedMotoServer]:
    """An S3 server with a bucket; the environment tells this process and its children of it."""
    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    said = {"AWS_ENDPOINT_URL": f"http://{host}:{port}", "AWS_DEFAULT_REGION": "us-east-1"}
    said |= {"AWS_MAX_ATTEMPTS": "1", "AWS_EC2_METADATA_DISABLED": "true"}
    for name, value in (said | KEYS).items():
        monkeypatch.setenv(name, value)
    anew()
    urlopen(f"http://{host}:{port}/moto-api/reset", b"").close()  # what earlier servers were given
    s3fs.S3FileSystem().mkdir("club")
    try:
        yield server
    finally:
        server.stop()
        anew()


def anew() -> None:
    """As in a process that has opened no address yet."""
    s3fs.S3FileSystem.clear_instance_cache()
    far_pictures._opened.cache_clear()
    far._reached.cache_clear()


def stored(name: str, data: bytes) -> Stored:
    """A picture of one card, by its name."""
    digest, file = hashlib.sha256(data).hexdigest(), f"cards/one/files/{name}"
    return Stored(digest[:16], digest, "jpeg", Path(file), Path("one"), None, None, file, AT)


@pytest.mark.thorough
@pytest.mark.parametrize("name", ["DCIM/IMG 1#2.JPG", "a::b.JPG", "50%20 [*]?.JPG", "Bär.JPG"])
def test_any_name_that_a_card_can_hold_is_read(store: ThreadedMotoServer, name: str) -> None:
    s3fs.S3FileSystem().pipe_file(f"club/woods/cards/one/files/{name}", b"a picture")
    assert read(stored(name, b"a picture")) == b"a picture"
    assert read(stored(name, b"another")) == Undecodable(f"{AT}/cards/one/files/{name} is damaged")
    gone = f"{AT}/cards/one/files/2{name} is missing"
    assert read(stored(f"2{name}", b"a picture")) == Undecodable(gone)


def test_an_address_that_cannot_be_read_is_refused_in_a_line(
    store: ThreadedMotoServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    s3fs.S3FileSystem().pipe_file("club/woods/cards/one/files/1.JPG", b"a picture")

    def refused(address: str) -> str:
        anew()
        with pytest.raises(InputRefused, match="cannot read the logbook at") as no:
            far._task(address, far._code(), len, "abc")
        assert "\n" not in str(no.value)
        return str(no.value)

    assert far._task(f"{AT}/", far._code(), len, "abc") == 3
    for address in ("s3://club/meadow", "s3://creek/woods"):
        assert "it holds no folder cards" in refused(address)
    assert "Invalid bucket name" in refused("s3://no such/woods")
    for key in KEYS:
        monkeypatch.delenv(key)
    monkeypatch.setenv("AWS_SHARED_CREDENTIALS_FILE", "none")
    assert "Unable to locate credentials" in refused(AT)


def test_when_the_store_is_gone_the_work_stops(store: ThreadedMotoServer) -> None:
    s3fs.S3FileSystem().pipe_file("club/woods/cards/one/files/1.JPG", b"a picture")
    one = stored("1.JPG", b"a picture")
    assert read(one) == b"a picture"
    store.stop()
    with pytest.raises(InputRefused, match=f"cannot read the logbook at {AT}: Could not connect"):
        read(one)


@pytest.mark.thorough
def test_workers_read_from_s3_and_one_of_them_is_killed(
    tmp_path: Path, store: ThreadedMotoServer, capsys: pytest.CaptureFixture[str]
) -> None:
    book = book_of(tmp_path, 2, 64)
    here = kept(book, LOOKS)
    s3fs.S3FileSystem().put(f"{book.cards}/", "club/woods/cards/", recursive=True)
    for originals in book.cards.glob("*/files"):
        shutil.rmtree(originals)  # so none can come from this disk
    forgotten(book)
    with ExitStack() as stack:
        club = Club(tmp_path, stack)
        club.join(2)
        club.wait_for(2)
        told: list[str] = []

        def kill(done: int, of: int) -> None:
            if club.workers[0].poll() is None and 0 < done < of:
                os.kill(club.workers[0].pid, signal.SIGKILL)
                club.workers[0].wait()

        with far.cluster(club.address, book, told.append, AT) as executor:
            done = look_again(book, Which(), True, executor, kill, AT)
        assert (done.frames, done.skipped) == (128, ())
        assert club.workers[0].returncode == -signal.SIGKILL
        (line,) = told
        assert "is gone" in line and "go to the others" in line
        assert kept(book, LOOKS) == here
        words = ["--logbook", str(book.root), "look", "--all", "--workers", club.address]
        assert run([*words, "--pictures-at", AT]) == 0
        assert "Measured 128 pictures again" in capsys.readouterr().out
        store.stop()
        assert run([*words, "--pictures-at", AT]) == 3
        err = capsys.readouterr().err
        assert f"cannot read the logbook at {AT}" in err and err.count("\n") == 1, err
    assert kept(book, LOOKS) == here
