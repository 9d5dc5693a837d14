"""All drawings of a night's rig, in the order in which it is set up."""

from __future__ import annotations

from setwright.compiler.outputs.data import NightData
from setwright.compiler.outputs.drawings.banks import banks_drawings
from setwright.compiler.outputs.drawings.midi import midi_drawings
from setwright.compiler.outputs.drawings.power import power_drawings
from setwright.compiler.outputs.drawings.signal import signal_drawings
from setwright.compiler.outputs.drawings.svg import Drawing


def drawings_of(data: NightData) -> tuple[Drawing, ...]:
    """Return the drawings of signal, MIDI, power and banks; what the rig does not say is left out.

    What does not fit on one page goes on in a drawing of its own: ``power``, ``power-2``.
    """
    return (
        *signal_drawings(data),
        *midi_drawings(data),
        *power_drawings(data),
        *banks_drawings(data),
    )
