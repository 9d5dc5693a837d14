"""Cables, THRU, merges and other senders: who receives, and who acts.

Source of the wiring: MIDI 1.0 Detailed Specification 4.2.1, hardware (THRU is a copy of what
arrives at IN; a box's own messages leave by OUT).
"""

from __future__ import annotations

from typing import Any

import pytest

from setwright.compiler.binding.target import COMPUTER, SWITCHER
from setwright.compiler.midi import Message, control, program
from setwright.compiler.proving.routing import Lines, Reaction, reaction
from setwright.scenes.rig import Rig
from setwright.scenes.switcher import Switcher
from setwright.scenes.unit import Unit

BOX = {"channel": "3"}
CLOSED = {"channel": "3", "thru": "no"}
MERGE = {"is": "merge"}
KEYS = {"is": "sender", "sends": "programs on channel 1"}


def lines(
    units: dict[str, Any], *midi: list[Any], gone: str = "", passes: str = "no", **board: str
) -> Lines:
    rig = Rig.model_validate({"units": units, "midi": list(midi)})
    said = {"switcher": "board", "banks": "9", "switches": "5", "passes on MIDI": passes, **board}
    return Lines(rig, Switcher.model_validate(said), frozenset({gone} - {""}))


@pytest.mark.parametrize(
    ("made", "sender", "hear"),
    [
        pytest.param(
            lines({"a": BOX, "b": BOX}, ["switcher", "a", "b"]), SWITCHER, ["a", "b"], id="a chain"
        ),
        pytest.param(
            lines({"a": CLOSED, "b": BOX}, ["switcher", "a", "b"]), SWITCHER, ["a"], id="THRU off"
        ),
        pytest.param(
            lines({"a": BOX, "b": BOX}, ["switcher", {"a": {"thru": "no"}}, "b"]),
            SWITCHER,
            ["a"],
            id="THRU off in the line",
        ),
        pytest.param(
            lines({"a": CLOSED, "b": BOX}, ["switcher", {"a": {"thru": "yes"}}, "b"]),
            SWITCHER,
            ["a", "b"],
            id="THRU on in the line",
        ),
        pytest.param(
            lines({"a": BOX, "b": BOX}, ["switcher", "a"], ["switcher", "b"]),
            SWITCHER,
            ["a", "b"],
            id="two outputs",
        ),
        pytest.param(
            lines({"a": BOX, "b": BOX, "c": BOX}, ["switcher", "a"], ["a", "b"], ["a", "c"]),
            SWITCHER,
            ["a", "b", "c"],
            id="a branch",
        ),
        pytest.param(
            lines({"a": CLOSED, "b": BOX}, ["switcher", "a"], ["a", "b"]),
            SWITCHER,
            ["a"],
            id="a branch of a box that passes nothing on",
        ),
        pytest.param(
            lines({"m": MERGE, "k": KEYS, "a": BOX}, ["switcher", "m"], ["k", "m"], ["m", "a"]),
            SWITCHER,
            ["m", "a"],
            id="a merge",
        ),
        pytest.param(
            lines({"m": MERGE, "k": KEYS, "a": BOX}, ["switcher", "m"], ["k", "m"], ["m", "a"]),
            "k",
            ["m", "a"],
            id="the other side of the merge",
        ),
        pytest.param(
            lines({"k": KEYS, "a": BOX}, ["switcher", "k", "a"]),
            "k",
            [],
            id="THRU carries no messages of its own",
        ),
        pytest.param(
            lines({"a": CLOSED, "b": BOX}, ["switcher", "a", "b"], gone="a"),
            SWITCHER,
            ["b"],
            id="where a box is gone its neighbours are joined",
        ),
        pytest.param(
            lines({"a": BOX}, ["switcher", "a"]), COMPUTER, ["a"], id="in the switcher's place"
        ),
        pytest.param(
            lines({"a": BOX, "b": BOX}, ["switcher", "a"], ["computer", "b"]),
            COMPUTER,
            ["b"],
            id="a line of its own",
        ),
        pytest.param(
            lines({"a": BOX}, ["computer", "switcher"], ["switcher", "a"]),
            COMPUTER,
            ["switcher"],
            id="a switcher passes nothing on",
        ),
        pytest.param(
            lines({"a": BOX}, ["computer", "switcher"], ["switcher", "a"], passes="yes"),
            COMPUTER,
            ["switcher", "a"],
            id="unless it does",
        ),
        pytest.param(
            lines({"a": BOX}, ["computer", "switcher"], ["switcher", "a"], passes="yes"),
            SWITCHER,
            ["a"],
            id="nothing goes back",
        ),
        pytest.param(
            lines(
                {"a": BOX, "b": BOX},
                ["switcher", {"a": {"thru": "no"}}],
                [{"a": {"thru": "yes"}}, "b"],
            ),
            SWITCHER,
            ["a"],
            id="a box has one THRU",
        ),
        pytest.param(
            lines(
                {"a": BOX, "b": BOX},
                [{"a": {"thru": "yes"}}, "b"],
                ["switcher", {"a": {"thru": "no"}}],
            ),
            SWITCHER,
            ["a"],
            id="whichever line says so",
        ),
        pytest.param(
            lines({"a": BOX}, ["computer", "switcher", "a"]),
            SWITCHER,
            ["a"],
            id="a switcher in the middle has an OUT",
        ),
        pytest.param(
            lines({"a": BOX}, ["computer", "switcher", "a"]),
            COMPUTER,
            ["switcher"],
            id="through which nothing else need come",
        ),
        pytest.param(
            lines({"a": BOX, "b": BOX}, ["switcher", "a"], ["a", "b"], gone="a"),
            SWITCHER,
            ["b"],
            id="joined across lines",
        ),
        pytest.param(
            lines(
                {"m": MERGE, "k": KEYS, "a": BOX},
                ["switcher", "m"],
                ["k", "m"],
                ["m", "a"],
                gone="m",
            ),
            "k",
            ["a"],
            id="a merge that is gone",
        ),
        pytest.param(lines({"a": BOX}), SWITCHER, [], id="no cables"),
        pytest.param(
            lines({"a": BOX, "b": BOX}, ["switcher", "a", "b"], ["b", "a"]),
            SWITCHER,
            ["a", "b"],
            id="a circle ends",
        ),
    ],
)
def test_who_receives(made: Lines, sender: str, hear: list[str]) -> None:
    assert list(made.reach(sender)) == hear


def test_the_way_is_the_cables() -> None:
    made = lines({"a": BOX, "b": BOX}, ["switcher", "a", "b"])
    way = made.reach(SWITCHER)["b"]
    assert [(cable.start, cable.end, cable.from_thru) for cable in way] == [
        ("switcher", "a", False),
        ("a", "b", True),
    ]
    assert [cable.path for cable in way] == [("rig", "midi", 0, 1, "a"), ("rig", "midi", 0, 2, "b")]


@pytest.mark.parametrize(
    ("made", "closing"),
    [
        (lines({"a": BOX, "b": BOX}, ["switcher", "a", "b"]), []),
        (lines({"a": BOX, "b": BOX}, ["switcher", "a", "b"], ["b", "a"]), [("b", "a")]),
        (lines({"a": BOX, "b": CLOSED}, ["switcher", "a", "b"], ["b", "a"]), []),
        (lines({"a": CLOSED, "b": BOX}, ["switcher", "a", "b"], ["b", "a"]), []),
        (lines({"a": BOX}, ["switcher", "a", "a"]), [("a", "a")]),
        (lines({"a": BOX}, ["switcher", "a", "switcher"]), []),
        (lines({"a": BOX}, ["switcher", "a", "switcher"], passes="yes"), [("a", "switcher")]),
        (lines({"a": BOX, "b": BOX, "c": BOX}, ["a", "b", "c", "a"]), [("c", "a")]),
        (
            lines({"a": BOX, "b": BOX, "c": BOX}, ["a", "b", "a"], ["b", "c", "b"]),
            [("b", "a"), ("c", "b")],
        ),
        (lines({"a": BOX, "b": BOX}, ["switcher", "a"], ["switcher", "b"], ["a", "b"]), []),
    ],
)
def test_circles(made: Lines, closing: list[tuple[str, str]]) -> None:
    assert [(cable.start, cable.end) for cable in made.loops()] == closing


def box(**said: Any) -> Unit:
    usual = {"channel": "3"}
    return Unit.model_validate(usual | {key.replace("_", " "): v for key, v in said.items()})


PROGRAMS: dict[str, Any] = {"display": "1 to 8", "programs": {"warm": "2"}}
CLOSED_MIND: dict[str, Any] = {"acts_only_on": "what is declared"}


@pytest.mark.parametrize(
    ("unit", "message", "does", "what"),
    [
        (box(**PROGRAMS), program(3, 1), Reaction.ACTS, "load program 1 (display 2)"),
        (box(**PROGRAMS), program(3, 9), Reaction.ACTS, "load program 9"),
        (box(**PROGRAMS), program(4, 1), Reaction.OTHER_CHANNEL, "listens on channel 3"),
        (box(), program(3, 1), Reaction.MAY_ACT, "load program 1"),
        (box(**CLOSED_MIND), program(3, 1), Reaction.IGNORES, "ignores programs"),
        (
            box(**PROGRAMS, **CLOSED_MIND, reached_by={"up": "70"}),
            program(3, 1),
            Reaction.IGNORES,
            "ignores programs",
        ),
        (
            box(channel="omni", **PROGRAMS),
            program(9, 1),
            Reaction.ACTS,
            "load program 1 (display 2)",
        ),
        (box(), control(3, 50, 1), Reaction.MAY_ACT, "do something on control 50"),
        (box(**CLOSED_MIND), control(3, 50, 1), Reaction.IGNORES, "ignores control 50"),
        (
            box(**CLOSED_MIND, switched_by={"cc": "50", "on": "1", "off": "0"}),
            control(3, 50, 1),
            Reaction.ACTS,
            "take control 50 for its on and off",
        ),
        (
            box(**CLOSED_MIND, time={"cc": "20", "fine cc": "52"}),
            control(3, 52, 1),
            Reaction.ACTS,
            "take control 52 for its time (fine part)",
        ),
        (
            box(**CLOSED_MIND, controls={"mix": {"cc": "21"}}),
            control(3, 21, 1),
            Reaction.ACTS,
            "take control 21 for its mix",
        ),
        (
            box(**CLOSED_MIND, tap={"cc": "64"}),
            control(3, 64, 1),
            Reaction.ACTS,
            "take control 64 for its tap",
        ),
        (
            box(**CLOSED_MIND, reached_by={"up": "70", "down": "71"}),
            control(3, 71, 1),
            Reaction.ACTS,
            "take control 71 for its step down",
        ),
        (
            box(**CLOSED_MIND, bank_select={"by": "lsb"}),
            control(3, 32, 1),
            Reaction.ACTS,
            "take control 32 for a bank select",
        ),
        (
            box(**CLOSED_MIND, bank_select={"by": "lsb"}),
            control(3, 0, 1),
            Reaction.IGNORES,
            "ignores control 0",
        ),
        (
            Unit.model_validate({"thru": "yes"}),
            control(3, 32, 1),
            Reaction.IGNORES,
            "has no MIDI channel",
        ),
        (
            box(),
            Message("note on", 3, (60, 1)),
            Reaction.IGNORES,
            "is told nothing by a note on",
        ),
    ],
)
def test_who_acts(unit: Unit, message: Message, does: Reaction, what: str) -> None:
    assert reaction(unit, message) == (does, what)
    assert does.acting is (does in {Reaction.ACTS, Reaction.MAY_ACT})


@pytest.mark.parametrize(
    ("message", "does"),
    [
        (program(16, 4), Reaction.ACTS),
        (program(15, 4), Reaction.OTHER_CHANNEL),
        (program(16, 45), Reaction.IGNORES),
        (control(16, 4, 0), Reaction.IGNORES),
    ],
)
def test_the_switcher_hears_too(message: Message, does: Reaction) -> None:
    made = lines({"k": KEYS}, ["k", "switcher"], **{"recalled on channel": "16"})
    (hearing,) = made.hear("k", message)
    assert (hearing.unit, hearing.reaction) == (SWITCHER, does)
    if does is Reaction.ACTS:
        assert hearing.what == "load its preset 5"


def test_the_way_to_a_box_is_told_cable_by_cable() -> None:
    made = lines({"a": BOX, "b": BOX, "c": BOX}, ["switcher", "a", "b", "c"])
    ways = {
        name: [(cable.start, cable.end) for cable in way]
        for name, way in made.reach(SWITCHER).items()
    }
    assert ways == {
        "a": [("switcher", "a")],
        "b": [("switcher", "a"), ("a", "b")],
        "c": [("switcher", "a"), ("a", "b"), ("b", "c")],
    }


CHANNELLESS = {"is": "amplifier"}


@pytest.mark.parametrize(
    ("made", "sender"),
    [
        (lines({"a": BOX}, ["switcher", "a"]), SWITCHER),
        (lines({"a": BOX}, ["computer", "a"]), COMPUTER),
        (lines({"a": BOX}), SWITCHER),
        (lines({"a": BOX, "b": BOX}, ["switcher", "a"], ["computer", "b"]), SWITCHER),
        (lines({"a": BOX}, ["computer", "switcher"], ["switcher", "a"]), SWITCHER),
        (lines({"a": BOX}, ["computer", "switcher", "a"]), SWITCHER),
        # A line that ends at the switcher leads into it, and not out of it.
        (lines({"a": BOX}, ["computer", "a", "switcher"]), COMPUTER),
        (lines({"a": BOX}, ["computer", "switcher"]), SWITCHER),
        (lines({"a": CHANNELLESS}, ["computer", "a"]), SWITCHER),
        # What the switcher tells the computer, no unit hears.
        (lines({"a": BOX}, ["switcher", "computer", "a"]), COMPUTER),
        (lines({"a": BOX}, ["switcher", "computer"]), SWITCHER),
        (lines({"a": CLOSED}, ["switcher", "a"], ["computer", "a"]), SWITCHER),
        (lines({"a": BOX}, ["computer", "a"], gone="a"), SWITCHER),
        (lines({"k": KEYS, "a": BOX}, ["k", "a"]), SWITCHER),
    ],
)
def test_who_sends_scenes(made: Lines, sender: str) -> None:
    assert made.sender == sender


@pytest.mark.parametrize(
    ("made", "recalls"),
    [
        (lines({"a": BOX}, ["switcher", "a"]), True),  # nothing is said of the computer's cable
        (lines({"a": BOX}, ["computer", "switcher", "a"]), True),
        (lines({"a": BOX}, ["computer", "a", "switcher"]), True),
        (lines({"a": CLOSED}, ["computer", "a", "switcher"]), False),
        (lines({"a": BOX, "b": BOX}, ["switcher", "a"], ["computer", "b"]), False),
    ],
)
def test_whether_a_computer_calls_presets(made: Lines, recalls: bool) -> None:
    assert made.recalls is recalls


@pytest.mark.parametrize(
    ("made", "sender", "joins"),
    [
        pytest.param(
            lines({"m": MERGE, "a": BOX}, ["switcher", "a", "m"], ["switcher", "m"]),
            SWITCHER,
            [("m", ["a", "switcher"], ["m"])],
            id="a diamond",
        ),
        pytest.param(
            lines({"m": MERGE, "a": BOX, "b": BOX}, ["switcher", "a", "m"], ["switcher", "m", "b"]),
            SWITCHER,
            [("m", ["a", "switcher"], ["m", "b"])],
            id="and a box behind it",
        ),
        pytest.param(
            lines({"m": MERGE, "a": CLOSED}, ["switcher", "a", "m"], ["switcher", "m"]),
            SWITCHER,
            [],
            id="one way is closed",
        ),
        pytest.param(
            lines({"m": MERGE, "k": KEYS, "a": BOX}, ["switcher", "m"], ["k", "m", "a"]),
            SWITCHER,
            [],
            id="a merge of two senders",
        ),
        pytest.param(
            lines({"a": BOX, "b": BOX}, ["switcher", "a", "b"], ["switcher", "b"]),
            SWITCHER,
            [],
            id="a box that is no merge has one socket, which is found elsewhere",
        ),
        pytest.param(
            lines({"m": MERGE, "n": MERGE, "a": BOX}, ["switcher", "m", "n"], ["m", "n", "a"]),
            SWITCHER,
            [("n", ["m", "m"], ["n", "a"])],
            id="two cables from one box",
        ),
        pytest.param(
            lines(
                {"m": MERGE, "n": MERGE, "a": BOX, "b": BOX},
                ["switcher", "a", "m"],
                ["switcher", "m", "b", "n"],
                ["switcher", "n"],
            ),
            SWITCHER,
            [("m", ["a", "switcher"], ["m", "b", "n"]), ("n", ["b", "switcher"], ["n"])],
            id="two diamonds",
        ),
        pytest.param(
            lines({"m": MERGE, "a": BOX}, ["computer", "switcher", "m"], ["computer", "m", "a"]),
            COMPUTER,
            [],
            id="a switcher passes nothing on",
        ),
        pytest.param(
            lines(
                {"m": MERGE, "a": BOX},
                ["computer", "switcher", "m"],
                ["computer", "m", "a"],
                passes="yes",
            ),
            COMPUTER,
            [("m", ["switcher", "computer"], ["m", "a"])],
            id="past the switcher and through it",
        ),
        pytest.param(
            lines(
                {"m": MERGE, "a": BOX},
                ["computer", "switcher", "m"],
                ["computer", "m", "a"],
                passes="yes",
            ),
            SWITCHER,
            [],
            id="of which the switcher sends one",
        ),
        pytest.param(
            lines({"m": MERGE, "a": BOX}, ["switcher", "m", "a", "m"]),
            SWITCHER,
            [],
            id="a circle is another slip",
        ),
        pytest.param(
            lines({"m": MERGE, "a": BOX}, ["switcher", "a", "m"], ["switcher", "m"], gone="a"),
            SWITCHER,
            [("m", ["switcher", "switcher"], ["m"])],
            id="a box that is gone leaves its cables",
        ),
        pytest.param(
            lines({"m": MERGE, "a": BOX}, ["a", "m"], ["switcher", "m"]),
            SWITCHER,
            [],
            id="a box that hears nothing passes nothing on",
        ),
        pytest.param(
            lines({"m": MERGE, "k": KEYS, "a": BOX}, ["k", "m"], ["switcher", "k", "m", "a"]),
            "k",
            [],
            id="its THRU carries what others send",
        ),
    ],
)
def test_where_two_ways_of_one_sender_meet(
    made: Lines, sender: str, joins: list[tuple[str, list[str], list[str]]]
) -> None:
    found = [
        (one.box, [cable.start for cable in one.into], list(one.hear)) for one in made.joins(sender)
    ]
    assert found == joins


@pytest.mark.parametrize(
    ("made", "stops"),
    [
        (lines({"a": CLOSED}, ["computer", "a", "switcher"]), "a"),
        (lines({"a": BOX}, ["computer", "a", "switcher"]), None),
        (lines({"a": CLOSED, "b": BOX}, ["computer", "a", "b", "switcher"]), "a"),
        (lines({"a": BOX, "b": CLOSED}, ["computer", "a", "b", "switcher"]), "b"),
        (lines({"a": BOX}, ["switcher", "a"], ["computer", "a"]), None),
        (lines({"a": BOX, "b": CLOSED}, ["computer", "a"], ["b", "switcher"]), None),
    ],
)
def test_which_box_stops_the_computer(made: Lines, stops: str | None) -> None:
    assert made.stopped(COMPUTER, SWITCHER) == stops
