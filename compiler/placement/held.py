"""What the switcher holds, by address, as far as its file says so."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from setwright.compiler.lowering.preset import Address, Content
from setwright.compiler.midi import encode
from setwright.scenes.book import Book
from setwright.scenes.displays import Display
from setwright.scenes.finding import Finding, Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.stored import StoredPreset


class Typed(NamedTuple):
    """What is typed into a preset apart from its name: what tells it from others.

    ``loops`` are those that are in, ``relays`` those that are closed, both by rising number;
    ``messages`` are bytes in the order of sending; ``tempo`` is empty without one.
    """

    loops: tuple[int, ...] = ()
    relays: tuple[int, ...] = ()
    messages: tuple[bytes, ...] = ()
    tempo: str = ""


class Held(NamedTuple):
    """One preset as it is stored; ``name`` is None where nobody says it."""

    typed: Typed
    name: str | None
    path: KeyPath


def typed_of(content: Content) -> Typed:
    """Return what has to be typed in for ``content``."""
    return Typed(
        tuple(sorted(content.loops)),
        tuple(sorted(content.relays)),
        tuple(encode(command.message) for command in content.commands),
        "" if content.tempo is None else str(content.tempo),
    )


def address_of(book: Book, text: str) -> Address | None:
    """Return the address that ``text`` shows: bank, slash, switch; None if there is none."""
    return _address(_numbers(book.switcher.banks), _numbers(book.switcher.switches), text)


def show(book: Book, address: Address) -> str:
    """Return how a person reads an address: bank, slash, switch, as the switcher shows them."""
    banks, switches = book.switcher.banks, book.switcher.switches
    return f"{banks.show(address.bank)}/{switches.show(address.switch)}"


def banks_shown(book: Book, shown: Iterable[str]) -> list[int] | None:
    """Return the banks that are ``shown`` so, counted from 0; None if one of them is none."""
    numbers = _numbers(book.switcher.banks)
    found = [numbers.get(one.strip().casefold()) for one in shown]
    banks = [one for one in found if one is not None]
    return banks if len(banks) == len(found) else None


def _numbers(display: Display) -> dict[str, int]:
    return {display.show(number).casefold(): number for number in range(display.count)}


def held_by(book: Book) -> tuple[dict[Address, Held], list[Finding]]:
    """Return what the switcher holds, and what is wrong with the places that are said."""
    if book.stored is None:
        return {}, []
    found: dict[Address, Held] = {}
    findings: list[Finding] = []
    for address, key in _addresses(book):
        path: KeyPath = ("stored", "presets", key)
        if address is None or address in found:
            findings.append(_nowhere(book, key, twice=address is not None))
            continue
        preset = book.stored.presets[key]
        found[address] = Held(as_typed(preset), preset.name, path)
    return found, findings


def as_typed(preset: StoredPreset) -> Typed:
    """Return what a stored preset holds; loops and relays by rising number, each once."""
    return Typed(
        tuple(sorted(set(preset.loops))),
        tuple(sorted(set(preset.relays))),
        tuple(preset.messages),
        preset.tempo or "",
    )


def _addresses(book: Book) -> Iterator[tuple[Address | None, str]]:
    assert book.stored is not None
    banks, switches = _numbers(book.switcher.banks), _numbers(book.switcher.switches)
    for key in book.stored.presets:
        yield _address(banks, switches, key), key


def _address(banks: dict[str, int], switches: dict[str, int], text: str) -> Address | None:
    bank, slash, switch = text.rpartition("/")
    at, on = banks.get(bank.strip().casefold()), switches.get(switch.strip().casefold())
    return Address(at, on) if slash and at is not None and on is not None else None


def _nowhere(book: Book, key: str, *, twice: bool) -> Finding:
    place = book.place_of_key(("stored", "presets", key))
    if twice:
        message, way_out = f"{quoted(key)} is said twice", "delete the one that is wrong"
    else:
        first = show(book, Address(0, 0))
        message = f"the switcher has no {quoted(key)}"
        way_out = f"write bank and switch as it shows them, for example {first}"
    return Finding("stored-nowhere", Severity.ERROR, message, place, way_out)
