"""Terms into charts and screens."""
