"""What holds for every test."""

from hypothesis import settings

# a busy machine is no fault of the code; speed is for benchmarks/
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
