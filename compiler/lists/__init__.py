"""A list of songs that somebody has already: read, and written as songs of a book."""
