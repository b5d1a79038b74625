"""Charts by Altair on one paper."""
