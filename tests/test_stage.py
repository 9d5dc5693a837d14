"""Whole nights, played on a stage that knows nothing of the compiler, keep what is promised."""
