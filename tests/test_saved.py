"""Which files were saved, when they are settled, and what is done where the system tells nothing."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from itertools import chain, repeat
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.compiler import saved
from setwright.compiler.saved import (
    NO_STAMP,
    Stamp,
    Stamps,
    Waker,
    folders_of,
    look,
    settled,
    touched_since,
    what_happened,
)

NEEDS_LINKS = pytest.mark.skipif(os.name == "nt", reason="needs symbolic links")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "songs.yaml"
    path.write_text("songs: []\n", encoding="utf-8")
    os.utime(path, ns=(0, 0))
    return path


def renamed_over(path: Path) -> None:
    aside = path.with_name("aside")
    aside.write_text("songs: []\n", encoding="utf-8")
    os.utime(aside, ns=(0, 0))
    aside.replace(path)


def led_elsewhere(path: Path) -> None:
    path.rename(path.with_name("real"))
    path.symlink_to("real")
    path.with_name("real").rename(path.with_name("other"))


def made_a_folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


SAVES: dict[str, Callable[[Path], object]] = {
    "written anew": lambda path: path.write_text("songs: [ ]\n", encoding="utf-8"),
    "as long as before": lambda path: path.write_text("songs: {}\n", encoding="utf-8"),
    "touched": lambda path: os.utime(path, ns=(0, 1)),
    "another of the same time put in its place": renamed_over,
    "closed to everybody": lambda path: path.chmod(0),
    "removed": lambda path: path.unlink(),
    "a link to nowhere": led_elsewhere,
    "a folder": made_a_folder,
}


@NEEDS_LINKS
@pytest.mark.parametrize("save", SAVES)
def test_a_save_is_seen(save: str, file: Path) -> None:
    before = look([file])
    SAVES[save](file)
    assert look([file]) != before


@pytest.mark.parametrize(
    "other",
    [
        lambda path: path.read_bytes(),
        lambda path: path.with_name("songs.yaml~").write_bytes(b"a backup"),
        lambda path: path.with_name("second name").hardlink_to(path),
    ],
    ids=["read", "a backup beside it", "a second name"],
)
def test_what_is_no_save(other: Callable[[Path], object], file: Path) -> None:
    before = look([file])
    other(file)
    assert look([file]) == before


@NEEDS_LINKS
def test_a_link_is_seen_when_the_file_is_saved_that_it_leads_to(file: Path) -> None:
    link = file.with_name("link")
    link.symlink_to(file)
    before = look([link])
    os.utime(file, ns=(0, 7))
    assert look([link]) != before


def test_no_name_is_too_odd(tmp_path: Path) -> None:
    odd = [tmp_path / "a\0b", tmp_path / ("x" * 5000), tmp_path / "no" / "folder"]
    assert look(odd) == dict.fromkeys(odd)
    assert not any(touched_since(one, 0) for one in odd)


@NEEDS_LINKS
def test_since_when(file: Path) -> None:
    """Neither the time of the content nor that of the name alone tells it."""
    put_there = file.stat().st_ctime_ns
    assert file.stat().st_mtime_ns == 0
    assert touched_since(file, put_there)
    assert touched_since(file, put_there + 5_000_000)
    assert not touched_since(file, put_there + 1_000_000_000)
    os.utime(file, ns=(0, put_there + 10**12))
    assert touched_since(file, put_there + 10**12)


# -- when it is settled ---------------------------------------------------------------------------

SONGS, RIG = Path("songs.yaml"), Path("rig.yaml")


def stamp(number: int, size: int = 9) -> Stamp:
    return NO_STAMP._replace(modified=number, size=size)


def states(text: str) -> list[Stamps]:
    """Return how a file is, look by look: a digit is a state, 0 is empty, - is gone."""
    of = {"-": None, "0": stamp(0, 0)}
    return [{SONGS: of.get(sign, stamp(ord(sign)))} for sign in text]


def scripted(before: Stamps, seen: list[Stamps]) -> tuple[Stamps, int]:
    """Return what `settled` returns of these looks, the last of which goes on, and its pauses."""
    looks = chain(seen, repeat(seen[-1]))
    pauses: list[None] = []
    result = settled(before, lambda: next(looks), lambda: pauses.append(None))
    return result, len(pauses)


@pytest.mark.parametrize(
    ("seen", "end", "pauses"),
    [
        ("2", "2", 3),  # saved in one step
        ("232", "2", 5),
        ("2233445", "5", 9),  # written on and on
        ("-2", "2", 4),  # put aside, and another put in its place
        ("-------------------2", "2", 22),  # later
        ("0000000002", "2", 12),  # emptied, then written
        ("0-0-02", "2", 8),
        ("-", "-", 20),  # gone for good
        ("0", "0", 20),
        ("23" * 80, "2", 100),  # somebody who does not end
    ],
)
def test_settled(seen: str, end: str, pauses: int) -> None:
    assert scripted(states("1")[0], states(seen)) == (states(end)[0], pauses)


@pytest.mark.parametrize(
    ("before", "seen", "pauses"), [("-", "-", 3), ("0", "0", 3), ("-", "0", 3)]
)
def test_what_was_lacking_before_is_not_waited_for(before: str, seen: str, pauses: int) -> None:
    assert scripted(states(before)[0], states(seen))[1] == pauses


@given(
    parts=st.lists(
        st.one_of(
            st.tuples(st.sampled_from("23456789"), st.integers(1, 3)),
            st.tuples(st.sampled_from("-0"), st.integers(1, 20)),
        ),
        max_size=6,
    )
)
def test_what_lies_half_way_is_never_taken(parts: list[tuple[str, int]]) -> None:
    """However it is saved: no state is taken that does not last."""
    seen = "".join(sign * times for sign, times in parts)[:90]
    # Neighbours of one kind would last longer than each of them.
    for longest in ("-" * 21, "0" * 21, *(sign * 4 for sign in "23456789")):
        while longest in seen:
            seen = seen.replace(longest, longest[1:])
    assert scripted(states("1")[0], states(f"{seen}A"))[0] == states("A")[0]


# -- in words -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("before", "now", "words"),
    [
        ("11", "11", ""),
        ("11", "21", "songs.yaml was saved"),
        ("11", "23", "songs.yaml and rig.yaml were saved"),
        ("1-", "12", "rig.yaml is there now"),
        ("--", "12", "songs.yaml and rig.yaml are there now"),
        ("11", "1-", "rig.yaml is gone"),
        ("1-", "-2", "rig.yaml is there now; songs.yaml is gone"),
        ("11", "2-", "songs.yaml was saved; rig.yaml is gone"),
    ],
)
def test_what_happened(before: str, now: str, words: str) -> None:
    def both(text: str) -> Stamps:
        return {name: states(sign)[0][SONGS] for name, sign in zip((SONGS, RIG), text, strict=True)}

    assert what_happened(both(before), both(now)) == words


def test_many_files_and_odd_names_in_words() -> None:
    names = [Path("a.yaml"), Path("b.yaml"), Path("\x1b[2J.yaml")]
    words = what_happened(dict.fromkeys(names), dict.fromkeys(names, NO_STAMP))
    assert words.startswith("a.yaml, b.yaml and ")
    assert words.isprintable()


# -- where to look --------------------------------------------------------------------------------


@NEEDS_LINKS
def test_folders(tmp_path: Path) -> None:
    top = tmp_path.resolve()
    (top / "real").mkdir()
    (top / "real" / "songs.yaml").touch()
    (top / "songs.yaml").symlink_to("real/songs.yaml")
    assert set(folders_of([top / "rig.yaml"])) == {top}
    assert set(folders_of([top / "songs.yaml"])) == {top, top / "real"}
    deep = top / "units" / "deep" / "one.yaml"
    assert set(folders_of([deep])) == {top}
    deep.parent.mkdir(parents=True)
    before = folders_of([deep])
    assert set(before) == {deep.parent}
    deep.parent.rename(top / "away")
    assert set(folders_of([deep])) == {top / "units"}
    deep.parent.mkdir()
    assert folders_of([deep]).keys() == before.keys()
    assert folders_of([deep]) != before, "it is another folder of the same name"


# -- being woken ----------------------------------------------------------------------------------


def thrown(error: BaseException) -> object:
    raise error


def broken(error: BaseException) -> Callable[[object], Iterator[object]]:
    """Return what fails at once, as an import does, or when it is first asked, as the system."""

    def changes(folders: object) -> Iterator[object]:
        if isinstance(error, ImportError):
            raise error
        return (thrown(error) for _ in (1,))

    return changes


@pytest.fixture
def sleeps(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    made: list[float] = []
    monkeypatch.setattr("time.sleep", made.append)
    return made


@pytest.mark.parametrize(
    ("error", "why"),
    [
        (OSError(28, "No space left on device"), "no space left on device"),
        (OSError("OS file watch limit reached."), "os file watch limit reached."),
        (RuntimeError("\x1b"), "\\x1b"),
        (ModuleNotFoundError("No module named 'watchfiles'"), "no module named 'watchfiles'"),
    ],
)
def test_where_the_system_cannot_tell_it_is_said_once_and_looked_at(
    error: BaseException,
    why: str,
    sleeps: list[float],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    said: list[str] = []
    monkeypatch.setattr(saved, "_changes_in", broken(error))
    waker = Waker(said.append)
    for _ in range(3):
        waker.wait([tmp_path / "songs.yaml"])
    (sentence,) = said
    assert sentence.startswith("the system does not tell when a file is saved (")
    assert sentence.endswith("); the files are looked at twice a second instead")
    assert why in sentence
    assert sleeps == [0.5, 0.5]


def test_a_folder_that_goes_away_is_no_reason_to_give_up(
    sleeps: list[float], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    said: list[str] = []
    errors = [FileNotFoundError(2, "no such file"), FileNotFoundError(2, "no such file")]
    woken: list[object] = []

    def changes(folders: object) -> Iterator[None]:
        if errors:
            raise errors.pop()
        woken.append(folders)
        yield from (None, None)

    monkeypatch.setattr(saved, "_changes_in", changes)
    waker = Waker(said.append)
    for _ in range(4):
        waker.wait([tmp_path / "songs.yaml"])
    assert (said, len(woken), len(sleeps)) == ([], 1, 2)


def test_other_folders_are_watched_from_the_next_time_on(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    begun: list[list[str]] = []

    def changes(folders: dict[Path, object]) -> Iterator[None]:
        begun.append(sorted(one.name for one in folders))
        yield from repeat(None)

    monkeypatch.setattr(saved, "_changes_in", changes)
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    waker = Waker(lambda sentence: None)
    for names in (["a/1"], ["a/1", "a/2"], ["a/1", "b/1"], ["a/1", "b/1"]):
        waker.wait([tmp_path / name for name in names])
    assert begun == [["a"], ["a", "b"]]


def test_the_library_tells_of_a_file_put_in_place(tmp_path: Path) -> None:
    """The real one: again and again, for nobody knows when it has begun to look."""
    changes = saved._changes_in([tmp_path])
    for number in range(60):
        aside = tmp_path / "aside"
        aside.write_text(str(number), encoding="utf-8")
        aside.replace(tmp_path / "songs.yaml")
        if told := next(changes):
            break
    assert isinstance(told, set)
    assert "songs.yaml" in {Path(path).name for _, path in told}
    changes.close()
