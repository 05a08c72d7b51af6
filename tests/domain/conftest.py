"""Properties are not timed: the first example of a session also loads scipy, and machines are busy."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
