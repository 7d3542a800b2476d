"""Property tests try the same examples each run, so that a fault is a fault of the change and not of the day.

`pytest --hypothesis-profile=search` looks for new ones.
"""

from hypothesis import HealthCheck, settings

settings.register_profile("same", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("search", deadline=None, max_examples=400)
settings.load_profile("same")
