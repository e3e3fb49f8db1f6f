"""What holds for every test."""

from hypothesis import settings

# A busy machine is no fault of the code; speed is for benchmarks/.
settings.register_profile("unhurried", deadline=None)
# `make test` draws the same cases each time, so that what fails has to do with what was changed.
settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("unhurried")
