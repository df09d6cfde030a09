"""The config: from YAML text with line numbers to frozen, checked values."""
