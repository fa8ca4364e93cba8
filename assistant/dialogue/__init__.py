"""Words to intent to events and replies. Pure: opens no file, reads no clock."""
