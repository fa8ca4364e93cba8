"""JSGF, numbers and units as they are said."""
