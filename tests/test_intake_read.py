"""A card's file is read once; what the card does not hand out is told under a name of its own."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from camsign.flows.intake.read import READER, CardReadError, Reader, pieces_once, read_whole


class Giving(Reader):
    """A card that hands out so many pieces, then an error if it has one."""

    def __init__(self, *pieces: bytes, error: int = 0) -> None:
        self.given, self.error = pieces, error

    def read(self, path: str) -> bytes:
        return b"".join(self.pieces(path))

    def pieces(self, path: str) -> Iterator[bytes]:
        yield from self.given
        if self.error:
            raise OSError(self.error, os.strerror(self.error))


def test_a_file_comes_whole_or_in_pieces(tmp_path: Path) -> None:
    path = tmp_path / "clip.avi"
    path.write_bytes(b"abcdef")
    assert read_whole(READER, str(path), 6) == b"abcdef"
    first, pieces = pieces_once(READER, str(path), 6)
    assert first == b"abcdef" and b"".join(pieces) == b"abcdef"
    first, pieces = pieces_once(Giving(b"ab", b"cd", b"ef"), "", 5)  # it grew since it was listed
    assert first == b"ab" and list(pieces) == [b"ab", b"cd", b"ef"]


@pytest.mark.parametrize("given", [(), (b"ab",), (b"ab", b"cd")])
def test_a_card_that_gives_out_is_told(given: tuple[bytes, ...]) -> None:
    pulled = Giving(*given, error=errno.EIO)
    with pytest.raises(CardReadError, match=os.strerror(errno.EIO)):
        read_whole(pulled, "", 4)
    with pytest.raises(CardReadError, match=os.strerror(errno.EIO)):
        list(pieces_once(pulled, "", 4)[1])


@pytest.mark.parametrize("given", [(), (b"ab",), (b"ab", b"c")])
def test_fewer_bytes_than_listed_are_no_file(given: tuple[bytes, ...]) -> None:
    with pytest.raises(CardReadError):
        read_whole(Giving(*given), "", 4)
    with pytest.raises(CardReadError):
        list(pieces_once(Giving(*given), "", 4)[1])
