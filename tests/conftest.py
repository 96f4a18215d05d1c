"""One setting for all tests: random input is the same at every run, unless a long run asks for new.

Set HYPOTHESIS_PROFILE=fresh for other random input at each run, as the long run does.
"""

import os

from hypothesis import settings

settings.register_profile("steady", derandomize=True, deadline=None)
settings.register_profile("fresh", derandomize=False, deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))
