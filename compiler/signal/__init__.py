"""The signal's way: the path as a graph, what sounds through what, and what is wrong with it."""
