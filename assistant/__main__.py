"""Lets `python -m assistant` do what the command `assistant` does."""

import sys

from assistant.cli import main

sys.exit(main())
