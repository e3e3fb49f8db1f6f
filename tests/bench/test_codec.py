"""How records are written and read again: what goes in comes out, whatever was measured."""

import json
import math
from dataclasses import dataclass, field
from typing import Annotated, Any, Literal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.codec import Keys, Named, dof_of, in_unit, read, written
from camerawright.bench.contract import BenchTest
from camerawright.quantity import BudgetLine, Kind, Quantity, coverage_factor
from tests import published

GUM = published.load("jcgm-100")
FINITE = st.floats(-1e9, 1e9)


@dataclass(frozen=True)
class Pulse:
    """A part of a record."""

    at_s: float
    width: Annotated[Quantity, Keys("s", "{}_s", "u_{}_s", budget="budget_{}")]
    dark: Annotated[Quantity | None, in_unit("s", "s")] = None


@dataclass(frozen=True, kw_only=True)
class Heard:
    """A record with every kind of field that records have."""

    name: str
    n: int
    is_loud: bool
    side: Literal["left", "right"]
    rise: Annotated[Quantity, in_unit("s", "s")]
    bare: Annotated[Quantity, Keys("V", "{}_v", "u_{}_v")]
    spread: Annotated[Quantity, Keys("stop", "{}", "u_{}", expanded="U95_{}", dof="dof_{}")]
    whole: Annotated[Quantity, in_unit("s", "s", budget="lines_{}")]
    from_s: Annotated[float, Named("from")]
    level: NDArray[np.float64]
    gap_s: float | None
    pulse: Pulse
    again: Pulse | None
    pulses: tuple[Pulse, ...]
    window: tuple[float, int]
    gains: dict[str, float]
    never: None = None
    cached: int = field(default=3, metadata={"stored": False})
    compared: None = None
    flags: tuple[str, ...] = ()
    words: list[str] = field(default_factory=list)


SIZES = st.floats(1e-9, 1e3)
KINDS: st.SearchStrategy[Kind] = st.sampled_from(["A", "B"])
LINES = st.builds(BudgetLine, st.text(max_size=8), SIZES, st.floats(1, 1e6) | st.just(math.inf), KINDS)


def _quantities(unit: str) -> st.SearchStrategy[Quantity]:
    return st.builds(Quantity, FINITE, st.just(unit), st.lists(LINES, min_size=1, max_size=4).map(tuple))


PULSES = st.builds(Pulse, FINITE, _quantities("s"), st.none() | _quantities("s"))
RECORDS = st.builds(
    Heard,
    name=st.text(max_size=8),
    n=st.integers(-(10**9), 10**9),
    is_loud=st.booleans(),
    side=st.sampled_from(["left", "right"]),
    rise=_quantities("s"),
    bare=_quantities("V"),
    spread=_quantities("stop"),
    whole=_quantities("s"),
    from_s=FINITE,
    level=st.lists(FINITE, max_size=4).map(lambda values: np.asarray(values, dtype=np.float64)),
    gap_s=st.none() | FINITE,
    pulse=PULSES,
    again=st.none() | PULSES,
    pulses=st.lists(PULSES, max_size=2).map(tuple),
    window=st.tuples(FINITE, st.integers(-(10**9), 10**9)),
    gains=st.dictionaries(st.text(max_size=4), FINITE, max_size=3),
    flags=st.lists(st.text(max_size=4), max_size=2).map(tuple),
)


def same(there: Quantity | None, back: Quantity | None, *, has_interval: bool = True) -> bool:
    """Whether a quantity came back with its value and its uncertainty, the lines put together."""
    if there is None or back is None:
        return there is back
    return (
        (back.value, back.unit) == (there.value, there.unit)
        and math.isclose(back.u, there.u, rel_tol=1e-12)
        and (not has_interval or math.isclose(back.expanded_u, there.expanded_u, rel_tol=1e-6))
    )


def same_pulse(there: Pulse | None, back: Pulse | None) -> bool:
    """Whether a part came back; its width was written with the whole budget."""
    if there is None or back is None:
        return there is back
    return (there.at_s, there.width) == (back.at_s, back.width) and same(there.dark, back.dark)


@settings(max_examples=40, deadline=None)
@given(RECORDS)
def test_a_record_comes_back_from_its_json(there: Heard) -> None:
    stored = json.loads(json.dumps(written(there), allow_nan=False))
    back = read(Heard, stored)
    alike = ("name", "n", "is_loud", "side", "whole", "from_s", "gap_s", "window", "gains", "flags", "words")
    assert {name: getattr(back, name) for name in alike} == {name: getattr(there, name) for name in alike}
    assert np.array_equal(back.level, there.level)
    assert back.level.dtype == np.float64
    assert same(there.rise, back.rise)
    assert same(there.bare, back.bare, has_interval=False)
    assert same(there.spread, back.spread)
    assert same_pulse(there.pulse, back.pulse)
    assert same_pulse(there.again, back.again)
    assert len(back.pulses) == len(there.pulses)
    assert all(map(same_pulse, there.pulses, back.pulses))
    assert written(read(Heard, stored)).keys() == stored.keys()


EXAMPLE = Heard(
    name="x", n=2, is_loud=False, side="left",
    rise=Quantity(2.0, "s", (BudgetLine("noise", 3.0, 4.0, "A"), BudgetLine("timing", 4.0))),
    bare=Quantity(1.0, "V", (BudgetLine("noise", 0.1),)),
    spread=Quantity(0.5, "stop", (BudgetLine("repeatability", 0.2, 4, "A"),)),
    whole=Quantity(9.0, "s", (BudgetLine("clock", 0.5),)),
    from_s=0.5, level=np.array([0.0, 1.0]), gap_s=None,
    pulse=Pulse(1.0, Quantity(3.0, "s", (BudgetLine("noise", 0.1, 7, "A"),))), again=None, pulses=(),
    window=(0.5, 2), gains={"left": 1.0},
)  # fmt: skip


def test_the_keys_are_those_that_the_fields_name() -> None:
    stored = written(EXAMPLE)
    assert (stored["rise_s"], stored["u_rise_s"]) == (2.0, 5.0)  # 3² + 4² = 5²
    assert {"bare_v", "u_bare_v"} < stored.keys()
    assert "k95_bare" not in stored
    assert GUM["t95_4"].holds(stored["U95_spread"] / stored["u_spread"])
    assert stored["dof_spread"] == pytest.approx(4)
    assert stored["lines_whole"] == [{"name": "clock", "u": 0.5, "dof": None, "kind": "B"}]
    assert stored["from"] == 0.5
    assert not {"from_s", "cached"} & stored.keys()
    assert stored["pulse"]["budget_width"][0]["dof"] == 7
    assert (stored["pulse"]["dark_s"], stored["pulse"]["u_dark_s"], stored["pulse"]["k95_dark"]) == (None, None, None)


def test_what_an_older_record_lacks_takes_its_default() -> None:
    stored = written(EXAMPLE)
    del stored["flags"], stored["words"], stored["pulse"]["dark_s"], stored["k95_rise"], stored["lines_whole"]
    back = read(Heard, {**stored, "of_long_ago": 1})
    assert (back.flags, back.words, back.pulse.dark, back.cached) == ((), [], None, 3)
    assert back.rise.dof == math.inf
    assert (back.whole.u, len(back.whole.budget)) == (0.5, 1)


@pytest.mark.parametrize("key", ["name", "from", "level", "gap_s", "pulse", "rise_s", "U95_spread"])
def test_what_a_record_cannot_do_without_is_missed(key: str) -> None:
    stored = written(EXAMPLE)
    del stored[key]
    with pytest.raises((KeyError, TypeError)):
        read(Heard, stored)


@pytest.mark.parametrize(
    ("key", "wrong"),
    [
        ("name", None),
        ("compared", 1),
        ("n", "two"),
        ("side", "top"),
        ("rise_s", "long"),
        ("rise_s", []),
        ("rise_s", None),
        ("from", {}),
        ("level", "loud"),
        ("level", None),
        ("pulse", "a pulse"),
        ("pulse", [1, 2]),
        ("pulse", None),
        ("pulses", "none"),
        ("pulses", {"at_s": 1}),
        ("pulses", 3),
        ("window", [1.0]),
        ("gains", 5),
        ("gains", {"left": "high"}),
        ("gains", {"left": None}),
        ("lines_whole", [{"name": "clock"}]),
        ("lines_whole", "none"),
    ],
)
def test_what_is_of_another_type_is_refused_in_the_way_that_readers_expect(key: str, wrong: Any) -> None:
    with pytest.raises((KeyError, TypeError, ValueError)):
        read(Heard, {**written(EXAMPLE), key: wrong})


@pytest.mark.parametrize("stored", [None, [], "a record", 3])
def test_what_is_no_object_is_no_record(stored: Any) -> None:
    with pytest.raises(TypeError):
        read(Heard, stored)


@settings(deadline=None)
@given(st.floats(0, 6).map(lambda power: 10.0**power))
def test_the_degrees_of_freedom_come_back_from_the_coverage_factor(dof: float) -> None:
    """By scipy's Student's t: two-sided 95 % is the quantile of 0.975."""
    k95 = float(stats.t.ppf(0.975, dof))
    assert coverage_factor(dof) == pytest.approx(k95, rel=1e-12)
    assert dof_of(k95) == pytest.approx(dof, rel=1e-6)


def test_the_coverage_factor_of_the_normal_distribution_has_no_degrees_of_freedom() -> None:
    assert dof_of(float(stats.norm.ppf(0.975))) == math.inf


@pytest.mark.parametrize("dof", [1, 4])
def test_the_printed_coverage_factors_give_the_printed_degrees_of_freedom(dof: int) -> None:
    assert round(dof_of(GUM[f"t95_{dof}"].value)) == dof


@pytest.mark.parametrize("test", CATALOGUE, ids=lambda test: str(test.name))
def test_an_empty_record_of_every_test_reads_back(test: BenchTest[Any]) -> None:
    """A field that is always null too, as the comparison of a flash contact."""
    empty = test.record(test=test.name, method=test.method)
    assert read(test.record, json.loads(json.dumps(written(empty)))) == empty
