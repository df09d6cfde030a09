"""Pages to read, which come with the program."""
