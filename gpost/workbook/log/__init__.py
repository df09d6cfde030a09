"""The log: what was printed, what was predicted, and what the two together teach."""
