"""Pages for a browser: the display at the bench, and the board of the shop's jobs."""
