"""gpost prepares sliced files for printing pots in soft clay; importing it loads nothing else."""

__version__ = "0.1.0"
