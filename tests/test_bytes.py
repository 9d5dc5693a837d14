"""Any bytes as any file of a book: never an exception, always a finding where it fails."""

from __future__ import annotations

import tempfile
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from setwright.compiler.compiled import Compiled, Unopened
from setwright.compiler.pipeline import compile_night
from setwright.scenes.finding import Severity, render, visible, worst
from tests.books import small_book, write_files

FILES = ("songs.yaml", "night.yaml", "rig.yaml", "desk.yaml")
EXAMPLES = 130
"""Books for each test and file: with two tests and four files, over 1,000 in all."""

# Unicode's general categories of signs that cannot be seen or are not assigned.
HIDDEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}

# Pieces of which YAML is made, and words that mean something in one of the four files.
_SIGNS = (
    *(": ", "- ", "? ", ", ", "\n", "\n  ", "\n    ", "\n- ", "\t", " ", "#", " # ", "|", ">", "|-\n"),
    *("[", "]", "{", "}", "'", '"', "&a ", "*a", "!", "!!str ", "<<: ", "---\n", "...\n", "%YAML 1.1\n"),
    *("\\", "`", "@", "\ufeff", "\0", "\x1b[31m", "\u202e", "\x85", "\u2028", "\r", "\r\n"),
)  # fmt: skip
_WORDS = (
    *("night", "rig", "songs", "sets", "play", "song", "straight into", "capo", "tempo", "if asked"),
    *("songs.yaml", "rig.yaml", "desk.yaml", "../x", "/dev/zero", "include", "title", "id"),
    *("sounds", "scenes", "order", "form", "meter", "bars", "lasts", "echo", "sound", "like", "add"),
    *("drop", "at", "cue", "foot", "units", "effects", "programs", "display", "channel", "loop"),
    *("switched by", "time", "linear", "points", "controls", "cc", "at rest", "path", "midi", "supply"),
    *("switcher", "banks", "switches", "loops", "relays", "every bank", "general", "instead of"),
    *("AABB, 3 rounds", "6/8", "dotted quarter = 112", "1:05", "20 ms to 1800 ms", "0 to 99", "A1 to H8"),
    *("on", "no", "12:30", "010", "1_000", "1e999", "-1", "0", "127", "128", "99999999999999999999"),
    *("squeezer", "compression", "nothing", "swell open", "Start", "plain", "ß1 to ß8", "²", "٣"),
)  # fmt: skip
pieces = st.lists(st.sampled_from((*_SIGNS, *_WORDS, *_SIGNS)), max_size=40).map("".join)
texts = st.one_of(pieces, st.text(max_size=60)).map(lambda text: text.encode("utf-8", "replace"))


@st.composite
def spliced(draw: st.DrawFn, file: str) -> bytes:
    """Write a few pieces over the good file, which gets further than random text."""
    text = small_book()[file]
    for _ in range(draw(st.integers(1, 3))):
        start = draw(st.integers(0, len(text)))
        end = draw(st.integers(start, min(len(text), start + 40)))
        text = text[:start] + draw(pieces) + text[end:]
    return text.encode("utf-8")


@pytest.fixture(scope="module")
def folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as name:
        yield Path(name)


def compiled_with(folder: Path, file: str, content: bytes) -> Compiled | Unopened:
    write_files(folder, small_book())
    (folder / file).write_bytes(content)
    return compile_night(folder / "night.yaml")


def judge(compiled: Compiled | Unopened, content: bytes) -> None:
    if isinstance(compiled, Unopened):
        assert worst(compiled.findings) is Severity.ERROR
        assert not compiled.unreadable
    for finding in compiled.findings:
        shown = render(finding)
        assert not {unicodedata.category(sign) for sign in shown if sign != "\n"} & HIDDEN, content
        assert finding.message
        assert finding.place.line >= 1
        assert finding.place.column >= 1
        assert finding.place.column <= len(finding.place.source.line(finding.place.line)) + 1
        assert isinstance(finding.to_json()["message"], str)


@pytest.mark.parametrize("file", FILES)
@settings(max_examples=EXAMPLES, deadline=None, derandomize=True)
@example(content=b"\xff\xfes\0o\0")
@example(content=b"\xef\xbb\xbfsongs: []\n")
@example(content=b"[" * 100_000)
@example(content=b"\x00" * 100)
@example(content="a: b\u2028c: d\n- e: f\n".encode())
@example(content="a: b\x85c: d\n- e: f\n".encode())
@given(content=st.one_of(st.binary(max_size=200), texts))
def test_any_bytes(folder: Path, file: str, content: bytes) -> None:
    judge(compiled_with(folder, file, content), content)


@pytest.mark.parametrize("file", FILES)
@settings(max_examples=EXAMPLES, deadline=None, derandomize=True)
@given(data=st.data())
def test_a_good_file_with_anything_written_into_it(
    folder: Path, file: str, data: st.DataObject
) -> None:
    content = data.draw(spliced(file))
    judge(compiled_with(folder, file, content), content)


@settings(max_examples=EXAMPLES, deadline=None, derandomize=True)
@given(text=st.text())
def test_what_is_shown_has_no_control_characters(text: str) -> None:
    assert not {unicodedata.category(sign) for sign in visible(text)} & HIDDEN
