"""Sliced pieces of our own invention: the class's bottles and bowls, with all that is true of them known."""
