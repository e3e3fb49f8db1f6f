"""A text of any length is read in a time that grows with its length, or refused with the most that there may be.

Steps are counted, as a clock would count what else the machine does: how many functions are called, ours and built in.
"""

import sys
from collections.abc import Callable, Iterator
from itertools import chain

import pytest

from camerawright.handbook.exposure import marked_speed
from camerawright.journal.asked import Asked, asked
from camerawright.journal.entries import KINDS
from camerawright.journal.fastener_text import fasteners
from camerawright.journal.lead_text import leads
from camerawright.journal.loose_text import loose_parts
from camerawright.journal.shim_text import shims
from camerawright.trouble import NotUnderstood
from camerawright.wording.spoken import value
from camerawright.workshop.apertures import apertures_read

PIECES = ("wheel,", "2 x M2 x 4, ", "1 x 0.1 NE, ", "red from a to b, ", "1 ball at x, ", "and one ", '"', '“a', "(a",
          " ", "1/2 ", "at ", "9", "½", ";", "the ", "M2", "through it ")  # fmt: skip
LINES: tuple[Callable[[str], object], ...] = (fasteners, shims, loose_parts, leads)


def _n_calls(read: Callable[[str], object], text: str) -> int:
    """How many functions are called while a text is read."""
    n_calls = 0

    def count(_frame: object, event: str, _argument: object) -> None:
        nonlocal n_calls
        n_calls += event in {"call", "c_call"}

    before = sys.getprofile()
    sys.setprofile(count)
    try:
        read(text)
    except NotUnderstood:
        pass
    finally:
        sys.setprofile(before)
    return n_calls


@pytest.mark.parametrize("read", LINES)
def test_a_line_six_times_as_long_takes_six_times_the_steps(read: Callable[[str], object]) -> None:
    for piece in PIECES:
        for begin in ("", "3 x M2 x 4 "):
            n_short, n_long = (_n_calls(read, begin + piece * n) for n in (10, 60))
            assert n_long < 6.6 * n_short + 200, (begin, piece)


def _fields() -> Iterator[Asked]:
    """One field of each way to read."""
    found = {field.text: field for field in chain.from_iterable(map(asked, KINDS.values())) if not field.choices}
    return iter(found.values())


@pytest.mark.parametrize("piece", PIECES)
def test_every_field_reads_or_refuses_10_kb_in_few_steps(piece: str) -> None:
    text = (piece * 10_000)[:10_000]
    for field in _fields():
        assert _n_calls(field.read, text) < 60 * len(text), field.name
        assert _n_calls(lambda text, read=field.read: read([text]), text) < 60 * len(text), field.name  # type: ignore[misc]


@pytest.mark.parametrize("read", [value, marked_speed, apertures_read])
def test_other_parsers_take_10_kb(read: Callable[[str], object]) -> None:
    for piece in PIECES:
        assert _n_calls(read, (piece * 10_000)[:10_000]) < 60 * 10_000, piece


def test_a_text_without_end_is_refused_with_the_most_there_may_be() -> None:
    field = next(each for each in asked(KINDS["removed"]) if each.name == "fasteners")
    with pytest.raises(NotUnderstood, match="write at most 4000 characters") as one:
        field.read("3 x " + "wheel," * 1500)
    assert len(str(one.value)) < 200
    with pytest.raises(NotUnderstood, match="write at most 20000 characters"):
        field.read("2 x M2 x 4\n" * 2000)
    assert len(field.read("2 x M2 x 4\n" * 100)) == 100
