"""The parts desk: what all jobs ordered, and what became of it."""
