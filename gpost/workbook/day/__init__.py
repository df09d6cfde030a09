"""The day: pieces onto cartridges, in an order that saves changes of colour, by the clock."""
