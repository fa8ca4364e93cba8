"""The guides for the people who use the assistant: Markdown files, found, read and rendered."""
