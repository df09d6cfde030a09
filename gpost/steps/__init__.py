"""Steps: what one is, where they are found, and the recipe that names them."""
