"""The faults that are put into the compiler are faults, and the judges notice them."""

from __future__ import annotations

import ast

from tests.conftest import ROOT
from tests.mutants.judging import judge
from tests.mutants.making import Mutant, mutants, sample
from tests.mutants.rooms import BY_RECEIVERS, ROOMS, SAFETY, Room

BY_NAME = {room.name: room for room in ROOMS}
# Whose faults are no mutants' business: what is printed on the way in and out, and live sending.
NOT_JUDGED = {
    "compiler/cli.py",
    "compiler/console.py",
    "compiler/terminal.py",
    "compiler/progress.py",
    "compiler/folder.py",
    "compiler/audit.py",
    "compiler/watch.py",
    "compiler/listen.py",
    "compiler/follow.py",
    "compiler/rehearse.py",
    "compiler/new_book.py",
    "compiler/__main__.py",
}
# Records without a decision, and explanations.
NOTHING_TO_JUDGE = {
    "compiler/lowering/commands.py",
    "scenes/explained.py",
    *(
        f"scenes/slips/{name}.py"
        for name in ("books", "files", "lists", "music", "songs", "texts", "values")
    ),
    *(
        f"scenes/examples/{name}.py"
        for name in ("said", "music", "evening", "rigs", "boxes", "every")
    ),
}


def test_every_module_belongs_to_one_room() -> None:
    files = [file for room in ROOMS for file in room.files]
    assert len(files) == len(set(files))
    wanted = {
        str(path.relative_to(ROOT))
        for top in ("scenes", "compiler")
        for path in (ROOT / top).rglob("*.py")
        if path.name != "__init__.py" and "sending" not in path.parts
    }
    assert wanted - set(files) == NOT_JUDGED | NOTHING_TO_JUDGE
    assert set(files) <= wanted


def test_every_room_has_judges_that_there_are() -> None:
    assert len(BY_NAME) == len(ROOMS)
    for room in ROOMS:
        assert room.judges
        for kind, *words in map(str.split, room.judges):
            if kind == "corpus":
                assert all((ROOT / "tests" / "cases" / code).is_dir() for code in words), room
            else:
                assert (ROOT / kind).is_file(), room
    assert {room.name for room in BY_RECEIVERS} == {"bind", "lower", "wire", "midi"}
    whole = {room.name for room in ROOMS if room.whole}
    assert whole == SAFETY | {"common/supply"}


def test_there_are_enough_of_them() -> None:
    for room in BY_RECEIVERS:
        chosen = sample(room, 55, 1903)
        assert len({one.text for one in chosen}) == 55
        assert {one.operator for one in chosen} == {"drop", "swap", "constant", "negate"}
    assert sample(BY_RECEIVERS[0], 9, 1903) == sample(BY_RECEIVERS[0], 9, 1903)
    assert sample(BY_RECEIVERS[0], 9, 1903) != sample(BY_RECEIVERS[0], 9, 1904)


def test_each_is_a_program_of_its_own() -> None:
    for room in (*BY_RECEIVERS, BY_NAME["supply-voltage"], BY_NAME["merge"]):
        for mutant in sample(room, 12, 1903):
            written = (ROOT / mutant.file).read_text(encoding="utf-8")
            assert mutant.text != ast.unparse(ast.parse(written))
            ast.parse(mutant.text)
            assert mutant.line > 0, mutant


def one(room: Room, change: str) -> Mutant:
    return next(mutant for mutant in mutants(room) if change in mutant.change)


def test_they_are_noticed() -> None:
    """One of each kind of room, that does harm without an exception."""
    harm = [
        ("lower", "not on → on"),
        ("wire", "MILLISECONDS_A_BYTE"),
        ("midi", "message.channel - 1 →"),
        ("bind", "demand.quantity == 'use'"),
        ("supply-voltage", "for span in best), default=given.low) → min("),
        ("identities", "and len(same) == 1"),
    ]
    outcome = judge([one(BY_NAME[room], change) for room, change in harm], try_out=False)
    assert all(outcome.values()), outcome


def test_a_text_for_people_is_left_alone() -> None:
    changes = [mutant.change for mutant in mutants(BY_NAME["supply-kind"])]
    assert changes
    assert not any(change.startswith(("f'", "Also(", "(Also(", "Fault(")) for change in changes)


def test_judges_that_see_nothing_notice_nothing() -> None:
    """A mutant is judged by the judges of its room alone."""
    deaf = one(BY_NAME["supply-kind"], "one.power.current != one.supply.current →")
    other = one(BY_NAME["power-in-circle"], "(name, path) →")._replace(room="supply-kind")
    outcome = judge([deaf, other], processes=1, try_out=False)
    assert outcome == {deaf: "corpus supply-kind", other: ""}
