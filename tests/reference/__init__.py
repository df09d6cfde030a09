"""The oracle of the test suite: a G-code interpreter and program generator that share nothing with gpost."""
