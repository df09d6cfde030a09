"""The stock steps, one module each, and the few things they share."""
