"""Sheets as PDF: a template of `setwright.templates`, filled in with plain data.

The letters are the same on every machine, for they come with Setwright and not from the system:
so their height is known, and the same data gives the same bytes. Data goes into a template as
JSON and is shown as text; nothing in it is ever read as source.

PDF/UA-1 (ISO 14289-1:2014) is kept: text can be read aloud in its order, and no letter vanishes.
A letter that these fonts lack is shown by its number instead; a check says so beforehand
(`letter-not-printed`), for it is known which they are (`setwright.compiler.lettered`).
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterator, Mapping
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any, Final, NamedTuple, cast

from setwright.compiler.lettered import lacking
from setwright.compiler.outputs.filled import shown

if TYPE_CHECKING:
    from typst import Fonts

STANDARD: Final = "ua-1"
PAPERS = {"a4": "a4", "letter": "us-letter"}
"""Sizes of paper: ISO 216 A4, 210 × 297 mm, and ANSI/ASME Y14.1 A, 8.5 × 11 in."""

_SAYS_WHICH = re.compile(r'the text `"(.*?)"` could not be displayed', re.DOTALL)

_TURNING = frozenset({"R", "AL"})

_BREAK = 8
_LONG_WORD = re.compile(r"\S{17,}")
"""Words longer than this may be broken anywhere after so many letters: no usual one is as long."""


class Printed(NamedTuple):
    """A PDF, and the letters that stand there by their numbers although fonts have each alone."""

    pdf: bytes
    lacking: tuple[str, ...]


class NoPrinterError(Exception):
    """The library that makes PDF is not there, does not start on this machine, or breaks off."""


def printed(template: str, values: Mapping[str, object], *, paper: str = "a4") -> Printed:
    """Return a template as PDF; ``values`` are records, texts, numbers, and lists of these.

    Bytes are a drawing in SVG, and stay as they are but for letters that no font has.

    ``paper`` is one of `PAPERS`. NoPrinterError: the library is not there, or breaks off.
    """
    data = {"paper": PAPERS[paper], **{name: _plain(value) for name, value in values.items()}}
    known = frozenset(one for text in _texts(data) for one in lacking(text))
    gone = known
    while True:
        try:
            pdf = _compile(_sources(template), json.dumps(_shown(data, gone), ensure_ascii=False))
        except RuntimeError as error:
            # Letters that a font has alone and not together, as marks above a strange one.
            named = set(_named_in(error) or "") - gone
            if not named:
                raise
            gone |= named
        else:
            return Printed(pdf, tuple(sorted(gone - known)))


def _plain(value: object) -> Any:
    """Return records as mappings, all the way down, and each text on one line."""
    if isinstance(value, bytes):  # a drawing, which is no text to be broken
        return value.decode("utf-8")
    if isinstance(value, str):
        return _apart(_LONG_WORD.sub(_broken, unicodedata.normalize("NFC", shown(value))))
    if isinstance(value, tuple | list):
        if hasattr(value, "_asdict"):
            extra = {name: getattr(value, name) for name in _computed(type(value))}
            return {key: _plain(one) for key, one in {**value._asdict(), **extra}.items()}
        return [_plain(one) for one in value]
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    return value


def _apart(text: str) -> str:
    """Return a text so that letters read from right to left in it turn nothing beside it.

    First strong isolate and its end: Unicode Standard Annex 9, 2.4.
    """
    turns = not text.isascii() and any(unicodedata.bidirectional(one) in _TURNING for one in text)
    return f"\u2068{text}\u2069" if turns else text


def _broken(word: re.Match[str]) -> str:
    """Return a word that no line is long enough for, with places where it may be broken."""
    text = word.group()
    return "\u200b".join(text[at : at + _BREAK] for at in range(0, len(text), _BREAK))


@cache
def _computed(record: type[Any]) -> tuple[str, ...]:
    return tuple(name for name, one in vars(record).items() if isinstance(one, property))


def _texts(data: Any) -> Iterator[str]:
    if isinstance(data, str):
        yield data
    elif isinstance(data, dict):
        for one in data.values():
            yield from _texts(one)
    elif isinstance(data, list):
        for one in data:
            yield from _texts(one)


def _shown(data: Any, gone: frozenset[str]) -> Any:
    """Return data in which letters that no font has stand by their numbers."""
    if not gone:
        return data
    if isinstance(data, str):
        return "".join(f"\\u{{{ord(one):x}}}\u200b" if one in gone else one for one in data)
    if isinstance(data, dict):
        return {key: _shown(one, gone) for key, one in data.items()}
    if isinstance(data, list):
        return [_shown(one, gone) for one in data]
    return data


def _named_in(error: RuntimeError) -> str | None:
    """Return the text that an error of the library (of that kind) says no font has."""
    found = _SAYS_WHICH.search(str(error))
    return None if found is None else found.group(1)


@cache
def _sources(template: str) -> dict[str, bytes]:
    folder = resources.files("setwright.templates")
    return {
        "main": (folder / template).read_bytes(),
        "paper.typ": (folder / "paper.typ").read_bytes(),
    }


def _compile(sources: dict[str, bytes], text: str) -> bytes:
    try:
        import typst

        fonts = _fonts()
    except ImportError as error:
        what = "pip install typst font-source-sans-pro"
        raise NoPrinterError(f"a library does not load ({error}); try: {what}") from error
    try:
        made = typst.compile(
            cast(Any, sources),
            font_paths=fonts,
            sys_inputs={"data": text},
            pdf_standards=[STANDARD],
        )
    except BaseException as error:
        # No ordinary error, and of a class that cannot be named: the library broke off.
        if type(error).__name__ != "PanicException":
            raise
        raise NoPrinterError(
            "the library that makes PDF broke off at a text of this night"
        ) from None
    assert isinstance(made, bytes)
    return made


@cache
def _fonts() -> Fonts:
    import typst

    folder = resources.files("font_source_sans_pro") / "files"
    return typst.Fonts(include_system_fonts=False, font_paths=[str(folder)])
