"""The second pass: what the steps want becomes G-code, and the output is put in its place."""
