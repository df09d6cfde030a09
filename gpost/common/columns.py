"""How many columns text has, on a terminal and in a file."""

USUAL = 80
"""Of a file, whoever reads it, and of a terminal that doesn't say how many it has."""
NARROWEST, WIDEST = 40, 200
"""A terminal's are used between these."""
READABLE = 100
"""Paragraphs are no wider: longer lines are hard to read."""
