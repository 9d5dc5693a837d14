"""What is typed, entry by entry, and in which order: against a library's spanning trees."""

from __future__ import annotations

import networkx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setwright.compiler.lowering.preset import Address
from setwright.compiler.placement.entries import EMPTY, Entry, Sheet, What, distance, entries
from setwright.compiler.placement.held import Typed
from setwright.compiler.placement.typing_order import Step, typing_order

TREMOLO, VIBRATO = b"\xc5\x2a", b"\xc5\x2b"
ROOM, MIX, MORE = b"\xca\x02", b"\xb8\x15\x26", b"\xb8\x15\x1c"
TONE, LESS_TONE = b"\xb8\x16\x10", b"\xb8\x16\x08"
OTHER, OTHERS_TONE = b"\xb1\x15\x26", b"\xb1\x16\x10"


def sheet(
    *loops: int, messages: tuple[bytes, ...] = (), name: str = "", relays: tuple[int, ...] = ()
) -> Sheet:
    return Sheet(Typed(loops, relays, messages), name)


ENTRIES = [
    # begin, wanted, what a person types (counted by hand)
    (sheet(), sheet(), []),
    (sheet(1, 2), sheet(2, 3), [Entry(What.LOOP, 1), Entry(What.LOOP, 3, on=True)]),
    (sheet(relays=(1,)), sheet(), [Entry(What.RELAY, 1)]),
    (
        sheet(messages=(TREMOLO,)),
        sheet(messages=(VIBRATO,)),
        [Entry(What.MESSAGE, old=TREMOLO, new=VIBRATO)],
    ),
    # The slot of the same control, not that of the other message.
    (
        sheet(messages=(TREMOLO, MIX)),
        sheet(messages=(MORE,)),
        [Entry(What.MESSAGE, old=MIX, new=MORE), Entry(What.MESSAGE, old=TREMOLO)],
    ),
    # A program on another channel takes the slot of a program.
    (
        sheet(messages=(TREMOLO,)),
        sheet(messages=(ROOM, MIX)),
        [Entry(What.MESSAGE, old=TREMOLO, new=ROOM), Entry(What.MESSAGE, new=MIX)],
    ),
    # Each control in its own slot, in whatever order they come; then the same channel.
    (
        sheet(messages=(MIX, TONE)),
        sheet(messages=(LESS_TONE, MORE)),
        [Entry(What.MESSAGE, old=MIX, new=MORE), Entry(What.MESSAGE, old=TONE, new=LESS_TONE)],
    ),
    (
        sheet(messages=(OTHER, MIX)),
        sheet(messages=(TONE, OTHERS_TONE)),
        [Entry(What.MESSAGE, old=OTHER, new=OTHERS_TONE), Entry(What.MESSAGE, old=MIX, new=TONE)],
    ),
    (sheet(messages=(MIX, MORE)), sheet(messages=(MORE, MIX)), [Entry(What.ORDER)]),
    (sheet(name="Far"), sheet(name="Near"), [Entry(What.NAME, text="Near")]),
    (
        Sheet(Typed(tempo="quarter = 120"), ""),
        Sheet(Typed(tempo=""), ""),
        [Entry(What.TEMPO, text="")],
    ),
]


@pytest.mark.parametrize(("begin", "wanted", "typed"), ENTRIES)
def test_entries(begin: Sheet, wanted: Sheet, typed: list[Entry]) -> None:
    assert list(entries(begin, wanted)) == typed


SHEETS = st.builds(
    lambda loops, messages, name: sheet(*sorted(loops), messages=tuple(messages), name=name),
    st.frozensets(st.integers(1, 5), max_size=4),
    st.lists(st.sampled_from([TREMOLO, VIBRATO, ROOM, MIX, MORE]), max_size=3, unique=True),
    st.sampled_from(["Far", "Near", ""]),
)
ADDRESSES = st.builds(Address, st.integers(0, 2), st.integers(0, 3))


@given(SHEETS, SHEETS)
def test_there_and_back_is_as_far(one: Sheet, other: Sheet) -> None:
    assert distance(one, other) == distance(other, one)
    assert (distance(one, other) == 0) == (one == other)


@settings(max_examples=150, deadline=None)
@given(
    st.dictionaries(ADDRESSES, SHEETS, max_size=7),
    st.dictionaries(ADDRESSES, SHEETS, max_size=4),
    st.booleans(),
)
def test_the_order_is_the_least(
    wanted: dict[Address, Sheet], there: dict[Address, Sheet], copies: bool
) -> None:
    steps = typing_order(wanted, there, copies=copies)
    assert sum(len(step.entries) for step in steps) == least(wanted, there, copies=copies)
    assert played_through(steps, there) == there | wanted


def least(wanted: dict[Address, Sheet], there: dict[Address, Sheet], *, copies: bool) -> int:
    """Return the weight of the least spanning tree, as networkx finds it."""
    todo = [at for at in wanted if there.get(at) != wanted[at]]
    graph = networkx.Graph()
    graph.add_node("there")
    for at in todo:
        ways = [distance(there.get(at, EMPTY), wanted[at]), distance(EMPTY, wanted[at])]
        if copies:
            ways += [distance(one, wanted[at]) for other, one in there.items() if other not in todo]
            for other in todo:
                if other != at:
                    graph.add_edge(at, other, weight=distance(wanted[at], wanted[other]))
        graph.add_edge("there", at, weight=min(ways))
    tree = networkx.minimum_spanning_tree(graph)
    return int(tree.size(weight="weight"))


def played_through(steps: list[Step], there: dict[Address, Sheet]) -> dict[Address, Sheet]:
    """Do what the steps say, entry by entry, as a person would; return what is there then."""
    now = dict(there)
    for step in steps:
        begin = now[step.copy] if step.copy is not None else EMPTY
        if step.copy is None and step.known:
            begin = now[step.address]
        loops, relays, messages = set(begin.typed.loops), set(begin.typed.relays), []
        messages = list(begin.typed.messages)
        tempo, name = begin.typed.tempo, begin.name
        for entry in step.entries:
            match entry.what:
                case What.LOOP | What.RELAY:
                    held = loops if entry.what is What.LOOP else relays
                    (held.add if entry.on else held.remove)(entry.number)
                case What.MESSAGE:
                    if entry.old:
                        messages.remove(entry.old)
                    if entry.new:
                        messages.append(entry.new)
                case What.TEMPO:
                    tempo = entry.text
                case What.NAME:
                    name = entry.text
        assert sorted(messages) == sorted(step.wanted.typed.messages)
        assert sorted(loops) == list(step.wanted.typed.loops)
        assert sorted(relays) == list(step.wanted.typed.relays)
        assert (tempo, name) == (step.wanted.typed.tempo, step.wanted.name)
        now[step.address] = step.wanted
    return now


def test_bank_by_bank_where_that_costs_nothing() -> None:
    wanted = {Address(bank, switch): sheet(1, name="Far") for bank in (1, 0) for switch in (1, 0)}
    steps = typing_order(wanted, {}, copies=True)
    assert [step.address for step in steps] == sorted(wanted)
    assert steps[0].copy is None
    assert [len(step.entries) for step in steps] == [2, 0, 0, 0]


def test_switch_by_switch_within_a_bank() -> None:
    wanted = {Address(0, switch): sheet(switch + 1, name=str(switch)) for switch in (2, 0, 3, 1)}
    steps = typing_order(wanted, {}, copies=False)
    assert [step.address.switch for step in steps] == [0, 1, 2, 3]


def test_what_lies_there_may_be_copied_before_anything_is_typed() -> None:
    there = {Address(0, 0): sheet(1, 2, 3, messages=(TREMOLO,), name="Far")}
    wanted = {Address(1, 0): sheet(1, 2, messages=(TREMOLO,), name="Far")}
    (step,) = typing_order(wanted, there, copies=True)
    assert (step.copy, step.known, len(step.entries)) == (Address(0, 0), True, 1)
    (step,) = typing_order(wanted, there, copies=False)
    assert (step.copy, step.known, len(step.entries)) == (None, False, 4)


def test_nothing_to_do() -> None:
    there = {Address(0, 0): sheet(1, name="Far")}
    assert typing_order(there, there, copies=True) == []
    assert typing_order({}, there, copies=True) == []
