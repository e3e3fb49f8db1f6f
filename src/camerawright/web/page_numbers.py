"""Long lists, so many lines a page."""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Numbered:
    """One page of a list; pages are counted from 1."""

    n_page: int
    n_pages: int
    n_all: int
    first: int  # the first line of this page, counted from 0


def numbered(asked: str, *, n_all: int, most: int) -> Numbered:
    """The page that was asked for in an address; the first where that is none, the last where there are fewer."""
    n_pages = max(1, -(-n_all // most))
    n_page = min(max(int(asked), 1), n_pages) if asked.isdecimal() and len(asked) < 9 else 1
    return Numbered(n_page=n_page, n_pages=n_pages, n_all=n_all, first=(n_page - 1) * most)
