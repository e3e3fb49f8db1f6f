"""What holds for every test."""

from hypothesis import settings

settings.register_profile("unhurried", deadline=None)  # a busy machine is no fault of the code; speed is for benchmarks/
settings.load_profile("unhurried")
