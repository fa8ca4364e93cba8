"""Settings for all tests."""

from hypothesis import settings

# These machines are noisy: how long an example takes says nothing about whether it is right.
settings.register_profile("project", deadline=None)
settings.load_profile("project")
