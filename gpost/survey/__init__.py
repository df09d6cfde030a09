"""From moves to the survey: layers, totals, and what is odd about the file."""
