"""A card's file is read once: its bytes, or a long clip's pieces. Tests stand in a bad card."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from pathlib import Path

from camsign.systems import long_path

PIECE = 8_000_000
"""How much of a long file is held at once [bytes]."""

LARGE = 48_000_000
"""A file longer than this is copied in pieces [bytes]."""


class CardReadError(Exception):
    """The card did not hand a file's bytes out; `why` is what the system said, or what is missing.

    A reader or driver that gives out ends a file early as readily as it reports an error.
    """

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


class Reader:
    """The calls by which a card is read."""

    def read(self, path: str) -> bytes:
        """Give a file's bytes.

        Raises:
            OSError: the card does not hand them out.
        """
        return Path(long_path(path)).read_bytes()

    def pieces(self, path: str) -> Iterator[bytes]:
        """Give a file's bytes in pieces.

        Raises:
            OSError: the card does not hand them out.
        """
        with Path(long_path(path)).open("rb") as f:
            while piece := f.read(PIECE):
                yield piece


READER = Reader()


def read_whole(reader: Reader, path: str, listed: int) -> bytes:
    """Give all of a file's bytes, at least as many as the card listed.

    Raises:
        CardReadError: the card does not hand them out, or not all of them.
    """
    try:
        data = reader.read(path)
    except OSError as e:
        raise CardReadError(_words(e)) from e
    if len(data) < listed:
        raise CardReadError(_short(len(data), listed))
    return data


def pieces_once(reader: Reader, path: str, listed: int) -> tuple[bytes, Iterator[bytes]]:
    """Give a long file's first piece, and all its pieces, from one reading.

    Raises:
        CardReadError: the card does not hand them out, or fewer bytes than it listed; at once, or
            while the pieces are taken.
    """
    pieces = _guarded(reader.pieces(path), listed)
    first = next(pieces, b"")
    return first, chain([first], pieces)


def _guarded(pieces: Iterator[bytes], listed: int) -> Iterator[bytes]:
    """The card's errors under a name of their own, lest they pass for the logbook's disk's."""
    count = 0
    while True:
        try:
            piece = next(pieces)
        except StopIteration:
            break
        except OSError as e:
            raise CardReadError(_words(e)) from e
        count += len(piece)
        yield piece
    if count < listed:
        raise CardReadError(_short(count, listed))


def _words(e: OSError) -> str:
    return e.strerror or type(e).__name__


def _short(came: int, listed: int) -> str:
    return f"{came:,} of its {listed:,} bytes came"
