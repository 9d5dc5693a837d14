"""A compiled night in words: one scene, its cables, what was proven, what is checked."""
