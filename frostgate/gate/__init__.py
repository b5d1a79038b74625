"""A curve and a forecast into an outlook, an outlook into a verdict."""
