"""XML as it comes, read with expat as a stream: what cannot be taken costs a line, not the file.

Encodings that expat does not know, bytes that are not as declared, files cut short; and what XML
forbids, taken out before it is written.
"""

from __future__ import annotations

import codecs
import re
from abc import ABC, abstractmethod
from pathlib import Path
from typing import ClassVar, Self
from xml.parsers import expat

from camsign.errors import InputRefused

_DECLARED = re.compile(rb"""<\?xml[^>]{0,200}?encoding\s*=\s*["']([A-Za-z0-9._-]{1,4000})["']""")
_OWN = frozenset({"utf-8", "utf-16", "iso8859-1", "ascii"})
_WRONG = expat.errors.codes[expat.errors.XML_ERROR_INVALID_TOKEN]
_NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_MAX_DEPTH = 200


class XmlReader(ABC):
    """Collects what one file holds as its elements end; a subclass says what, in `begin` and `end`.

    `kind` names the format, `roots` the elements that it may begin with. `troubles`: a line for
    each thing that could not be taken as it stands.
    """

    kind: ClassVar[str]
    roots: ClassVar[frozenset[str]]
    remedy: ClassVar[str]

    def __init__(self, path: Path, encoding: str = "") -> None:
        self.path = path
        self.root = ""
        self.troubles: list[str] = []
        self.stack: list[str] = []
        self._text: list[str] = []
        self.parser = expat.ParserCreate(encoding or None, " ")
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._text.append
        self.parser.StartDoctypeDeclHandler = self._refuse_doctype

    @classmethod
    def read(cls, path: Path, raw: bytes) -> Self:
        """Read one document; bytes that are not as declared are read as Windows-1252, and told.

        Raises:
            InputRefused: no XML or of another kind, nested too deep, with a document type
                declaration, through which XML bombs work, or damaged before it held anything.
        """
        data, encoding = _recoded(raw, path)
        reader = cls(path, encoding)
        err = reader._run(data)
        if err is not None and err.code == _WRONG:
            again = cls(path, "windows-1252")
            behind = again._run(data)
            if behind is None or again.parser.ErrorByteIndex > reader.parser.ErrorByteIndex:
                told = "its bytes are not as declared; read as windows-1252: check accents"
                again.troubles.insert(0, told)
                reader, err = again, behind
        if err is not None:
            reader._keep_or_refuse(err)
        return reader

    @abstractmethod
    def begin(self, name: str, local: str, attributes: dict[str, str]) -> None:
        """An element begins: `name` with its namespace, `local` without; it is on the stack."""

    @abstractmethod
    def end(self, local: str, depth: int) -> None:
        """An element ends, which was the `depth`th from the root; it has left the stack."""

    @abstractmethod
    def holds_any(self) -> bool:
        """Say whether anything was taken so far."""

    def text(self) -> str:
        """Give the text of the element that ends."""
        return "".join(self._text).strip()

    def _run(self, data: bytes) -> expat.ExpatError | None:
        try:
            self.parser.Parse(data, True)
        except expat.ExpatError as err:
            return err
        return None

    def _keep_or_refuse(self, err: expat.ExpatError) -> None:
        """Of a file cut short, keep what stands before the damage; one that gave nothing goes."""
        why = expat.ErrorString(err.code)
        if not self.holds_any():
            kind = self.kind
            what = f"is a damaged {kind}" if self.root else f"is not XML, so it is no {kind}"
            raise self._refused(f"{what}: {why}, line {err.lineno}") from err
        self.troubles.append(f"damaged at line {err.lineno} ({why}): nothing behind it was read")

    def _refused(self, why: str) -> InputRefused:
        return InputRefused(f"{self.path} {why}", self.remedy)

    def _refuse_doctype(self, *_: object) -> None:
        raise self._refused(
            f"declares a document type, which no {self.kind} needs and XML bombs use"
        )

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        local = name.rpartition(" ")[2]
        if not self.stack:
            self.root = local
            if local not in self.roots:
                raise self._refused(f"is no {self.kind}: its root is <{local[:40]}>")
        if len(self.stack) >= _MAX_DEPTH:
            raise self._refused(f"is nested more than {_MAX_DEPTH} deep")
        self.stack.append(local)
        self._text.clear()
        self.begin(name, local, attributes)

    def _end(self, _: str) -> None:
        local = self.stack.pop()
        self.end(local, len(self.stack) + 1)
        self._text.clear()


def fit_for_xml(text: str) -> str:
    """Give text in which blanks stand for the characters that XML forbids."""
    return _NOT_IN_XML.sub(" ", text)


def _recoded(raw: bytes, path: Path) -> tuple[bytes, str]:
    """Give bytes that expat reads, and the encoding to tell it ("" if what is declared will do).

    Encodings of several bytes, such as Shift_JIS and GB18030, are turned into UTF-8.
    """
    found = _DECLARED.match(raw.lstrip()[:5000])
    if found is None:
        return raw, ""
    declared = found[1].decode("ascii")
    try:
        known = codecs.lookup(declared).name
        if known in _OWN or known.startswith("utf-16"):
            return raw, ""
        return raw.decode(known, errors="replace").encode("utf-8"), "utf-8"
    except (LookupError, UnicodeError):
        told = f"{path} declares the encoding {declared[:40]!r}, which is not known"
        raise InputRefused(told, "export it again as UTF-8") from None
