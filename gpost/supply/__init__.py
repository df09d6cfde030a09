"""The clay of a plan: which clay is where, when it shows, how old it is, and what to load."""
