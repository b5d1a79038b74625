"""Is it safe to feed yet? A frost-risk gate for the first feeding of the season.

A station's minima give its frost dates, the frost dates give a curve, the curve and a forecast give an
outlook, and the outlook opens or shuts the gate.
"""

__version__ = "0.1.0"
