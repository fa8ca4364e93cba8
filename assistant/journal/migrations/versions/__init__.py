"""The revisions of the shop's database, one module each."""
