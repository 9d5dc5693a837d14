"""What the switcher must hold for a night, and four signs that stand for it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator

from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.preset import Address
from setwright.compiler.placement.banks import Placement
from setwright.compiler.placement.held import Typed, typed_of
from setwright.scenes.rig import kept_names, parse_kept_switch


def mark_of(compiled: Compiled) -> str:
    """Return four signs for what the switcher must hold: other presets, other signs.

    The last word is in the presets, not in the signs: two of a million states share them.
    """
    text = "\n".join(
        f"{address.bank} {address.switch} {name} {typed}"
        for address, name, typed in sorted(presets_of(compiled))
    )
    number = int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big")
    return "".join(_SIGNS[number >> shift & 31] for shift in (0, 5, 10, 15))


_SIGNS = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Without those that are taken for one another: 0 and O, 1 and I."""


def presets_of(
    compiled: Compiled, placement: Placement | None = None
) -> Iterator[tuple[Address, str, Typed]]:
    """Yield every preset of tonight, and what is kept in every bank that it uses.

    Those of another ``placement``, if one is given.
    """
    presets = (placement or compiled.placement).presets
    for preset in presets:
        yield preset.slot, preset.name, typed_of(preset.content)
    use, kept = compiled.book.rig.switcher, compiled.kept
    if use is None or kept is None:
        return
    switches = compiled.book.switcher.switches
    marks = {switches.show(number).casefold(): number for number in range(switches.count)}
    for key, name in kept_names(use).items():
        if name not in kept.scenes:
            continue
        typed = typed_of(compiled.scene(kept, name).content)
        switch = marks[parse_kept_switch(key).casefold()]
        for bank in sorted({preset.slot.bank for preset in presets}):
            yield Address(bank, switch), name, typed
