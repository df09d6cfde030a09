"""Plain helpers that know nothing of clay."""
