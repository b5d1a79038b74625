"""The nouns of the trade: frozen values, checked when made, units in their names."""
