"""The one exception that means: tell the user this, in these words, and stop."""


class AssistantError(Exception):
    """Something the user can put right; its text says what is wrong and what to do.

    The command line prints it without a traceback and exits with 2; at the bench it is spoken.
    """
