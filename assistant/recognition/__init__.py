"""Sound to words: recognisers, the second listener, weighing. Generic in what words mean."""
