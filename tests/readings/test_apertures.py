"""The apertures of a lens, and the times at each, against openings whose integrals are known."""

import math
from datetime import UTC, datetime

import pytest

from camerawright.bench.contract import Speed
from camerawright.journal.entries import Measured
from camerawright.quantity import BudgetLine, Quantity
from camerawright.readings.apertures import apertures_of, effective_at, exact_stops, taken_at, widest_f_number
from camerawright.workshop.rows import Camera

LENS = (3.5, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0)


def camera(variant: str = "", f_numbers: tuple[float, ...] = ()) -> Camera:
    return Camera(maker="Orlmann", model="Falter", serial="7", variant=variant, f_numbers=f_numbers)


def reading(words: str) -> Measured:
    """A reading whose set-up was told in these words."""
    return Measured(
        at=datetime(2026, 3, 3, tzinfo=UTC), test="shutter", phase="as left", method="m", setup={"words": words},
        result={}, recording="0" * 64,
    )  # fmt: skip


def time(value_s: float, u_s: float = 1e-6) -> Quantity:
    return Quantity(value_s, "s", (BudgetLine("noise", u_s),))


def opening(power: float, *, total_s: float = 6e-3, opens_s: float = 1e-3) -> Speed:
    """Predictions for blades whose opening's radius grows as (t/t1)^power, and closes alike.

    Through an aperture of relative radius r passes min(1, (ρ/r)²); integrated, te = T - 2 t1 2p/(2p + 1) r^(1/p).
    For p = 1 that is T - 4/3 r t1 (handbook, leaf shutter efficiency models).
    """
    return Speed(
        effective=time(exact(power, 0.0, total_s, opens_s)),
        stopped_down=tuple((n, time(exact(power, n, total_s, opens_s))) for n in (1.0, 2.0, 3.0, 4.0)),
    )


def exact(power: float, stops: float, total_s: float = 6e-3, opens_s: float = 1e-3) -> float:
    radius = 2 ** (-stops / 2)
    return float(total_s - 2 * opens_s * (2 * power / (2 * power + 1)) * radius ** (1 / power))


@pytest.mark.parametrize("stops", [0.0, 0.4, 1.0, 2.4, 3.9, 4.0, 5.3, 6.0])
def test_an_opening_that_grows_steadily_is_told_exactly_at_any_aperture(stops: float) -> None:
    found = effective_at(opening(1), stops) if stops else opening(1).effective
    assert found is not None
    assert found.value == pytest.approx(exact(1, stops), abs=1e-9)


@pytest.mark.parametrize("power", [0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 6.0])
@pytest.mark.parametrize("stops", [4.3, 5.0, 5.3, 6.0])
def test_beyond_the_last_prediction_the_interval_holds_the_truth_for_openings_of_any_shape(
    power: float, stops: float
) -> None:
    found = effective_at(opening(power), stops)
    assert found is not None
    assert abs(found.value - exact(power, stops)) < found.expanded_u
    assert found.value >= opening(power).stopped_down[-1][1].value


def test_between_two_predictions_the_less_certain_one_counts() -> None:
    speed = Speed(effective=time(4e-3, 1e-6), stopped_down=((1.0, time(5e-3, 3e-5)), (2.0, time(6e-3, 2e-5))))
    for stops, u_s in ((0.5, 3e-5), (1.5, 3e-5), (2.0, 3e-5)):
        found = effective_at(speed, stops)
        assert found is not None
        assert found.u == pytest.approx(u_s)


def test_nothing_is_told_where_nothing_is_predicted() -> None:
    assert effective_at(Speed(effective=time(4e-3)), 1.0) is None
    assert effective_at(Speed(stopped_down=opening(1).stopped_down), 1.0) is None
    assert effective_at(opening(1), 6.1) is None
    assert effective_at(opening(1), 0.0) is None
    assert effective_at(opening(1), -1.0) is None


def test_the_apertures_are_those_of_the_lens_where_they_were_entered() -> None:
    """f/3.5 to f/8 is 2 log2(8 / 3.5) stops; f/11 stands for 11.31, f/22 for 22.63 (common practice)."""
    shown = apertures_of(camera("f/4.5", LENS), [reading("lens f/2")])
    assert [one.name for one in shown] == ["f/3.5", "f/4", "f/5.6", "f/8", "f/11", "f/16", "f/22"]
    for aperture, exact_n in zip(shown, (3.5, 4, 4 * 2**0.5, 8, 8 * 2**0.5, 16, 16 * 2**0.5), strict=True):
        assert aperture.stops_down == pytest.approx(2 * math.log2(exact_n / 3.5))


def test_without_them_the_usual_ones_follow_the_widest_that_is_told_as_far_as_curves_predict() -> None:
    assert [one.name for one in apertures_of(camera("coupled, f/4"), ())] == ["f/4", "f/5.6", "f/8", "f/11", "f/16"]
    told = apertures_of(camera("coupled"), [reading("lens f/3,5 wide open")])
    assert [one.name for one in told] == ["f/3.5", "f/4", "f/5.6", "f/8", "f/11"]


def test_without_any_f_number_whole_stops_are_told() -> None:
    shown = apertures_of(camera("rim set"), [reading("lens wide open")])
    assert [(one.name, one.stops_down) for one in shown] == [
        ("wide open", 0), ("1 stop down", 1), ("2 stops down", 2), ("3 stops down", 3), ("4 stops down", 4)
    ]  # fmt: skip


def test_a_reading_was_taken_at_the_aperture_that_its_set_up_names() -> None:
    shown = apertures_of(camera(f_numbers=LENS), ())
    assert taken_at(reading("lens at f/8"), shown) == pytest.approx(2 * math.log2(8 / 3.5))
    assert taken_at(reading("lens wide open"), shown) == 0
    assert taken_at(reading("lens f/2"), shown) == 0  # no aperture of this lens: it names the lens


def test_the_engraved_apertures_say_which_is_the_widest_before_any_words_do() -> None:
    assert widest_f_number(camera("f/4.5", (3.5, 4.0)), [reading("lens f/2")]) == 3.5
    assert widest_f_number(camera("f/4.5"), [reading("lens f/2")]) == 2.0
    assert widest_f_number(camera("f/4.5"), [reading("")]) == 4.5
    assert widest_f_number(camera(), [reading("")]) is None


@pytest.mark.parametrize(("f_number", "stops"), [(1.4, 1), (5.6, 5), (11, 7), (22, 9), (45, 11), (3.5, 3.6147)])
def test_engraved_f_numbers_stand_for_whole_stops_where_they_are_rounded(f_number: float, stops: float) -> None:
    assert exact_stops(f_number) == pytest.approx(stops, abs=1e-4)
