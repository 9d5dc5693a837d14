"""Faults put into the compiler itself, room by room, and whether the tests notice."""
