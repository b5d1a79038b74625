"""The commands: the only place that reads the clock, the environment and the command line."""
