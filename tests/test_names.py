"""The one folding of names: spellings that a repairer takes for one are one, and different names stay different."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.wording.names import name_key
from camerawright.workshop.rows import Camera


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("speed dial", "Speed-Dial"),
        ("speed dial", "  the speed\tdial "),
        ("speed dial", "speed‑dial"),  # a hyphen that does not break
        ("Falter 6×6", "falter 6x6"),
        ("Zählwerk", "Za\u0308hlwerk"),  # [iso-10646]: composed and decomposed forms
        ("Zählwerk", "ZAHLWERK"),
        ("ﬁlm gate", "film gate"),  # compatibility form: UAX #15
        ("３ o’clock screw", "3 o'clock screw"),
        ("0,1 shim", "0.1 shim"),
        ("Straße", "STRASSE"),  # full case folding: Unicode 3.13
    ],
)
def test_two_spellings_are_one_name(one: str, other: str) -> None:
    assert name_key(one) == name_key(other)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("front cell", "rear cell"),
        ("blade 1", "blade 2"),
        ("が", "か"),  # a voiced sign is a letter of its own
        ("+", "-"),
        ("speed dial", "speed dial spring"),
    ],
)
def test_two_names_stay_two(one: str, other: str) -> None:
    assert name_key(one) != name_key(other)


@given(st.text(min_size=1, max_size=30))
def test_folding_is_done_once_and_for_any_unicode_form(name: str) -> None:
    key = name_key(name)
    assert name_key(key) == key
    assert not name.strip() or key
    for form in ("NFC", "NFD", "NFKC", "NFKD"):
        assert name_key(unicodedata.normalize(form, name)) == key


def test_a_variant_is_found_by_any_spelling() -> None:
    camera = Camera(maker="Örlmann", model="Falter 6×6", serial="1", variant="late, two-hole ring")
    spelt = Camera(maker="O\u0308RLMANN", model="falter 6x6", serial="2", variant="Late, two hole ring")
    assert camera.variant_key == spelt.variant_key
