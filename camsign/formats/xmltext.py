"""XML files as they come: encodings that expat does not know, bytes that are not as declared."""

from __future__ import annotations

import codecs
import re
from xml.parsers import expat

from camsign.errors import InputRefused

_DECLARED = re.compile(rb"""<\?xml[^>]{0,200}?encoding\s*=\s*["']([A-Za-z0-9._-]{1,4000})["']""")
_OWN = frozenset({"utf-8", "utf-16", "iso8859-1", "ascii"})
WRONG = expat.errors.codes[expat.errors.XML_ERROR_INVALID_TOKEN]


def recoded(raw: bytes, name: str) -> tuple[bytes, str]:
    """Give bytes that expat reads, and the encoding to tell it ("" if what is declared will do).

    Encodings of several bytes, such as Shift_JIS and GB18030, are turned into UTF-8.

    Raises:
        InputRefused: the declared encoding is none that is known.
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
        told = f"{name} declares the encoding {declared[:40]!r}, which is not known"
        raise InputRefused(told, "export it again as UTF-8") from None
