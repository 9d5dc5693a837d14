"""Drawings of a rig: where the signal, the messages and the power go, and what the banks hold."""
