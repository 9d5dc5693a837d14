"""The switch of every preset within its bank.

What is pinned lies on its switch, and what lies there already stays. Of the rest, where it costs
nothing: the first sound of the bank's first song comes on the first switch, and a sound that has
lain on a switch in another bank lies on the same one here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence


def switches_of(
    presets: Sequence[int],
    switches: Sequence[int],
    pins: Mapping[int, int],
    stored: Mapping[int, Iterable[int]],
    usual: Mapping[int, int],
) -> dict[int, int]:
    """Return the switch of each of ``presets``, which come in the order of the night.

    ``switches`` are those of a bank that are free; ``stored`` tells where a preset lies in this
    bank already, ``usual`` where it has lain elsewhere. There is room for all, and pins differ.
    """
    free = list(switches)
    found: dict[int, int] = {}

    def put(preset: int, switch: int | None) -> None:
        if preset not in found and switch in free:
            found[preset] = switch
            free.remove(switch)

    for preset in presets:
        put(preset, pins.get(preset))
    for preset in presets:
        for switch in stored.get(preset, ()):
            put(preset, switch)
    put(presets[0], switches[0])
    for preset in presets:
        put(preset, usual.get(preset))
    for preset in presets:
        put(preset, free[0] if free else None)
    return found
