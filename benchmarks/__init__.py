"""Accuracy, speed and growth, measured by commands that anyone can run: `python -m benchmarks`."""
