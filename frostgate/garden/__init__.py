"""What the grower owns and did: one file of settings, one journal."""
