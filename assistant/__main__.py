"""Lets `python -m assistant` do what the command `assistant` does."""

import sys

from assistant.cli.main import main

sys.exit(main())
