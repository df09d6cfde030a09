"""A folder of sliced files, done one after the other or side by side."""
