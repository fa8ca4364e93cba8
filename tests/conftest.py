"""Settings for all tests."""

import os
import tempfile

import pytest
from hypothesis import settings

# These machines are noisy: how long an example takes says nothing about whether it is right.
# Where changes are checked, the same examples every time: a failure there is the change's.
settings.register_profile("project", deadline=None, derandomize="CI" in os.environ)
settings.load_profile("project")

# What is remembered of the voice, and of who works here, is not that of whoever runs the tests.
os.environ["XDG_CONFIG_HOME"] = tempfile.mkdtemp()

_LONGEST = ("test_hearing.py",)
"""Files whose tests take minutes of hearing."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with what takes longest, so that no core waits for another at the end."""
    items.sort(key=lambda item: item.path.name not in _LONGEST)
