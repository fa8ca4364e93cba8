"""What is served to a browser: the display at the bench, and the board of the shop's jobs."""
