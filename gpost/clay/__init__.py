"""The mathematics of clay: beads, metering, water and shrinkage."""
