"""What can be said: JSGF grammars, and numbers and units in words."""
