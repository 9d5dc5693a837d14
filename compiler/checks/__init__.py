"""One check per file; `listed` holds them all."""
