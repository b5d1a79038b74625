"""Does the stated risk come true? Past springs replayed; nothing here feeds the gate."""
