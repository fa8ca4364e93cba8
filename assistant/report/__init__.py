"""The job record for people: the record itself, the page, the table and the plain log."""
