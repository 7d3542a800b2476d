"""Property tests try the same examples each run, so that a fault is a fault of the change and not of the day.

`pytest --hypothesis-profile=search` looks for new ones. So that work plans are repeated too, each search has one thread
here: eight have once brought a whole run down, in the solver's own code.
"""

from hypothesis import HealthCheck, settings

import scrieve.workplan.search

settings.register_profile("same", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("search", deadline=None, max_examples=400)
settings.load_profile("same")

scrieve.workplan.search.WORKERS = 1
