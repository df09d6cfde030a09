"""The first studio file: what a potter knows of machine and clay, and which trial gives the rest."""
