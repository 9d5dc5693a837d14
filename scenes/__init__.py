"""What the musician writes: songs, switchers, rigs and nights. Knows no MIDI bytes."""
