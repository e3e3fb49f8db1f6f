"""Stored records taken apart, to be compared value by value."""

from typing import Any


def leaves(stored: Any, at: str = "") -> dict[str, Any]:
    """Every value of a record's JSON by its path: ``/firings/0/at_s``; an empty list or object is one too."""
    if isinstance(stored, dict) and stored:
        return {path: value for key, one in stored.items() for path, value in leaves(one, f"{at}/{key}").items()}
    if isinstance(stored, list) and stored:
        return {path: value for n, one in enumerate(stored) for path, value in leaves(one, f"{at}/{n}").items()}
    return {at: stored if not isinstance(stored, dict | list) else "empty"}
