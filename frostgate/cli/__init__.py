"""The commands: the only place that reads the clock, the environment and the command line."""

WRITTEN = "frostgate.written"  # in a command's context: lines that tell what it has written by now
