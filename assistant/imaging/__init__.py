"""Pictures: reading and cleaning picture files, and the camera over the bench."""
