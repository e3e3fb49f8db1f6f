"""Moments as text."""

from datetime import datetime


def moment(at: datetime) -> str:
    """A moment by the clock on the wall: ``2026-03-02 14:30``."""
    return f"{at.astimezone():%Y-%m-%d %H:%M}"
