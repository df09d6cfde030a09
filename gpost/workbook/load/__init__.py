"""What to load into each cartridge, as a sheet."""
