"""Settings of every test."""

from hypothesis import settings

# A busy machine is no fault of the kit: no test fails by time. tests/benchmarks measures speed and prints it.
settings.register_profile("no deadline", deadline=None)
settings.load_profile("no deadline")

# Scripts that are run by hand hold no examples.
collect_ignore_glob = ["benchmarks/*", "studies/*"]
