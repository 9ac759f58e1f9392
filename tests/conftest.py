"""Property tests run without a deadline; in CI they draw the same cases every time, elsewhere new ones."""

import os

from hypothesis import HealthCheck, settings

settings.register_profile("usual", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", settings.get_profile("usual"), derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "usual")
