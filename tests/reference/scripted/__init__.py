"""Walls as people's own scripts write them: choices, forms, the pen that spells, and the kinds of wall."""
