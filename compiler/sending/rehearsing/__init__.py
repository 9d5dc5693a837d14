"""A night walked through on the real rig, and the check of its lines."""
