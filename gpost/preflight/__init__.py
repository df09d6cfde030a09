"""Preflight: what is wrong with a sliced file, told with line numbers before anything is printed."""
