"""Curtains against closed forms and published figures, and what must not matter."""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import optimize

from camerawright.bench import codec
from camerawright.bench.curtains import TEST
from camerawright.bench.curtains.edges import Start, fit_passage, uncovered
from camerawright.bench.curtains.gate import Gate
from camerawright.bench.curtains.measure import measure
from camerawright.bench.curtains.motion import doubt, motion_through
from camerawright.bench.curtains.record import CurtainsRecord, Firing
from camerawright.bench.curtains.sensors import of_class
from camerawright.bench.curtains.simulate import Curtain
from camerawright.bench.curtains.speeds import compare, figures, speeds
from camerawright.bench.record import EFFECTIVE
from camerawright.handbook.light_sensors import Sensor
from camerawright.handbook.tolerances import find_profile
from camerawright.recordings.sound import Waveform
from tests.bench.curtain_scenes import RATE_HZ, gate_for, recorded, scene, steady, waveform, with_detectors
from tests.bench.stored import leaves

Floats = NDArray[np.float64]
PERFECT = Sensor("perfect", 0.0, 0.0, 0.0, "none: the shape is given as numbers")
AT_MM = (2.0, 18.0, 34.0)
EXACT = Gate(36.0, AT_MM, (1.0, 1.0, 1.0), 0.0)
USER = find_profile("user")


def _first(slit_mm: float, speed_mm_ms: float, diameter_mm: float = 1.0) -> Firing:
    made = steady(np.full(3, slit_mm), speed_mm_ms, AT_MM, diameter_mm)
    return measure(made, replace(EXACT, diameter_mm=(diameter_mm,) * 3), sensors=of_class(PERFECT)).firings[0]


@pytest.mark.parametrize(
    ("slit_mm", "speed_mm_ms", "exposure_ms"), [(2.4, 2.4, 1.0), (3.6, 3.6, 1.0), (14.4, 3.6, 4.0), (2.1, 2.1, 1.0)]
)
def test_the_exposure_is_slit_over_speed_and_the_gate_takes_its_width_over_the_speed(
    slit_mm: float, speed_mm_ms: float, exposure_ms: float
) -> None:
    """Physical identity te = w/v, traverse = L/v: a slit of 2.4 mm at 2.4 mm/ms gives 1.000 ms, and 36 mm 15.0 ms."""
    firing = _first(slit_mm, speed_mm_ms)
    for one in firing.sensors:
        assert one.exposure.value == pytest.approx(exposure_ms * 1e-3, abs=2e-7)
        if one.slit is not None:
            assert one.slit.value == pytest.approx(slit_mm, rel=1e-3)
    assert firing.sensors[1].slit is not None
    for curtain in (firing.first, firing.second):
        assert curtain.across.value == pytest.approx(36e-3 / speed_mm_ms, rel=1e-4)
        assert curtain.between.value == pytest.approx(32e-3 / speed_mm_ms, rel=1e-5)
        assert [curtain.speed_near.value, curtain.speed_far.value] == pytest.approx([1e3 * speed_mm_ms] * 2, rel=1e-3)
    assert firing.later.value == pytest.approx(0, abs=2e-7)


@pytest.mark.parametrize("diameter_mm", [0.5, 1.0, 2.0, 3.0])
def test_the_width_of_the_sensor_does_not_lengthen_the_exposure(diameter_mm: float) -> None:
    """1/1000 by a slit of 3.6 mm: at a 10 % threshold a 2 mm disc would read 38 % long."""
    for one in _first(3.6, 3.6, diameter_mm).sensors:
        assert one.exposure.value == pytest.approx(1e-3, rel=1e-3)


def test_unevenness_is_the_ratio_of_the_extremes() -> None:
    """[gost-19821] 6.4.2.2, formula (7): tmax/tmin; 1.10 and 0.95 ms give 1.1579, which is 0.2115 stop."""
    made = steady(np.array([0.95, 1.0, 1.10]) * 3.6, 3.6, AT_MM)
    firing = measure(made, EXACT, sensors=of_class(PERFECT)).firings[0]
    assert firing.uneven.value == pytest.approx(0.2115, abs=5e-4)
    assert firing.later.value == pytest.approx(0.15e-3, abs=3e-7)


def test_a_disc_cut_by_an_edge_shows_its_segment() -> None:
    """Area of a circle's segment, Bronstein and Semendjajew 3.1.6 (from memory): r²/2 (φ - sin φ); half of it at 0."""
    z = np.linspace(-0.99, 0.99, 41)
    phi = 2 * np.arccos(-z)
    part, slope = uncovered(z / 2, 0.0)
    assert part == pytest.approx((phi - np.sin(phi)) / (2 * np.pi), abs=2e-3)
    assert np.gradient(part, z / 2)[5:-5] == pytest.approx(slope[5:-5], rel=0.05)
    for smear in (0.0, 0.2, 0.5):
        part, _ = uncovered(z / 2, smear)
        assert part + part[::-1] == pytest.approx(1, abs=1e-12)


@pytest.mark.parametrize("seed", range(4))
def test_a_passage_is_that_of_a_fit_with_the_line_and_the_level_among_the_unknowns(seed: int) -> None:
    """[golub-pereyra-1973], [kaufman-1975]: scipy's curve_fit over all seven unknowns at once, the smear given."""
    rng = np.random.default_rng(seed)
    rate_hz, sigma, edge_s, smear = 96_000.0, 2e-3, 4e-4, 0.15
    t = np.arange(700) / rate_hz

    def light(t: Floats, first: float, second: float, rise: float, fall: float, *line: float) -> Floats:
        up, down = uncovered((t - first) / rise, smear)[0], uncovered((t - second) / fall, smear)[0]
        return np.asarray(line[0] * (up - down) + line[1] + line[2] * 100 * (t - t.mean()))

    true = (2e-3 + rng.uniform(0, 1e-5), 4.6e-3, edge_s, 1.1 * edge_s, 0.6, 0.02, 0.01)
    seen = light(t, *true) + sigma * rng.standard_normal(len(t))
    theirs, _ = optimize.curve_fit(light, t, seen, p0=[2.01e-3, 4.59e-3, edge_s, edge_s, 0.5, 0, 0], xtol=1e-12)
    found = fit_passage(seen, np.full(len(t), True), Start(2.01e-3, 4.59e-3, edge_s), sigma, rate_hz).passage
    assert (found.first_s, found.second_s) == pytest.approx(tuple(theirs[:2]), abs=1e-7)
    assert found.exposure_s == pytest.approx(theirs[1] - theirs[0], abs=1e-7)


def test_constant_acceleration_goes_exactly_through_three_places() -> None:
    """A curtain from rest 7 mm before the gate at 97 mm/ms² x 1e-3 enters after 12 ms and crosses 36 mm in 17.6 ms.

    [army-manual], a cloth shutter: 7 mm, 12 ms, about 17 ms (quoted).
    """
    a = 2 * 7.0 / 12e-3**2
    x = np.array(AT_MM)
    motion = motion_through(np.sqrt(2 * (x + 7) / a), x, 36.0)
    assert motion.a_mm_s2 == pytest.approx(a, rel=1e-6)
    enter, leave = motion.when(np.array([0.0, 36.0]))
    assert enter == pytest.approx(12e-3, rel=1e-6)
    assert leave - enter == pytest.approx(17.7e-3, abs=0.1e-3)
    assert motion.speed(np.array([0.0]))[0] == pytest.approx(a * 12e-3, rel=1e-6)


def test_through_two_places_a_curtain_comes_from_rest_a_quarter_of_the_gate_before_it() -> None:
    """Under a steady pull the way from rest is a t²/2: exact where it is so; 7 mm (army manual, quoted) is covered."""
    two, x = np.array([2.0, 34.0]), np.array([0.0, 10.0, 18.0, 26.0, 36.0])
    for rest_mm, most in ((9.0, 1e-9), (7.0, 2.0)):
        motion = motion_through(np.sqrt(two + rest_mm), two, 36.0)
        off, difference = doubt(motion, x, two)
        errors = np.abs(motion.when(x) - np.sqrt(x + rest_mm))
        assert np.all(errors <= most * np.abs(off)), rest_mm
        assert np.all(np.abs(difference) < np.abs(off))


def test_a_simulated_curtain_without_drag_swings_as_its_spring_does() -> None:
    """A mass on a spring from rest: x = far (1 - cos ωt); the way to where the spring is slack is far."""
    made = scene(1e-3)
    whole, spring = 7.0 + 36.0, made.first.slack
    turned = np.arccos(1 - spring * (7.0 + np.array([0.0, *AT_MM, 36.0])) / whole)
    passed = recorded(made)[1][0].first_s
    assert np.diff(passed) == pytest.approx(9e-3 * np.diff(turned[1:4]) / (turned[4] - turned[0]), rel=1e-5)


@pytest.fixture(scope="module")
def samples() -> np.ndarray:
    """Two firings at 1/1000 whose second curtain is a little slow, as floats, three channels."""
    made = scene(1e-3, 1e-3, second=Curtain(gate_s=9.2e-3, above_film_mm=1.5))
    return recorded(made)[0].samples.astype(float)


def _firings(samples: np.ndarray, gate: Gate = EXACT) -> tuple[Firing, ...]:
    return measure(waveform(samples, bits=None), gate).firings


def _same(ours: tuple[Firing, ...], theirs: tuple[Firing, ...], abs_s: float) -> None:
    assert len(ours) == len(theirs) == 2
    for one, other in zip(ours, theirs, strict=True):
        for mine, yours in zip(one.sensors, other.sensors, strict=True):
            assert mine.exposure.value == pytest.approx(yours.exposure.value, abs=abs_s)
        assert one.later.value == pytest.approx(other.later.value, abs=abs_s)
        assert one.first.between.value == pytest.approx(other.first.between.value, abs=abs_s)


def test_gain_offset_and_polarity_of_a_channel_do_not_matter(samples: np.ndarray) -> None:
    changed = samples * np.array([0.3, -1.0, 1.7]) + np.array([0.05, 0.0, -0.02])
    _same(_firings(samples), _firings(changed), 1e-7)


def test_when_it_fired_does_not_matter(samples: np.ndarray) -> None:
    later = np.concatenate([samples[:3210], samples])
    _same(_firings(samples), _firings(later), 1e-6)
    assert _firings(later)[0].at_s - _firings(samples)[0].at_s == pytest.approx(3210 / RATE_HZ, abs=1e-6)


def test_the_order_of_the_channels_does_not_matter_when_it_is_told(samples: np.ndarray) -> None:
    told = replace(EXACT, at_mm=(34.0, 2.0, 18.0))
    _same(_firings(samples), _firings(samples[:, [2, 0, 1]], told), 1e-9)


def test_curtains_from_the_other_edge_are_turned_and_told(samples: np.ndarray) -> None:
    result = measure(waveform(samples[:, ::-1], bits=None), EXACT)
    assert result.is_turned
    assert any("run the other way" in flag for flag in result.flags)
    _same(_firings(samples), result.firings, 1e-9)


@pytest.mark.parametrize("rate_hz", [44_100.0, 96_000.0, 192_000.0])
def test_the_sampling_rate_does_not_matter(rate_hz: float) -> None:
    made = replace(scene(1e-3, 1e-3), rate_hz=rate_hz)
    samples, truths = recorded(made)
    result = measure(Waveform(samples.samples, rate_hz, 16), gate_for(made))
    for firing, truth in zip(result.firings, truths, strict=True):
        for one, true in zip(firing.sensors, truth.exposure_s, strict=True):
            assert abs(one.exposure.value - true) < one.exposure.expanded_u


@pytest.mark.parametrize(
    ("corners_hz", "time_s"),
    [((20.0, 0.8), 1.0), ((), 1 / 30), ((14.0, 14.0), 1 / 30), ((20.0,), 1 / 1000), ((4.0, 0.3), 1 / 1000)],
)
def test_the_coupling_of_the_inputs_does_not_matter(corners_hz: tuple[float, ...], time_s: float) -> None:
    made = scene(time_s, time_s)
    made = with_detectors(made, corners_hz=corners_hz)  # type: ignore[arg-type]
    got, truths = recorded(made)
    for firing, truth in zip(measure(got, gate_for(made)).firings, truths, strict=True):
        for one, true in zip(firing.sensors, truth.exposure_s, strict=True):
            assert abs(math.log2(one.exposure.value / true)) < 0.005


def test_a_sensor_wider_than_the_slit_uses_the_level_of_a_slow_firing() -> None:
    made = scene(1 / 30, 1 / 30, 1 / 2000, diameter_mm=2.0)
    got, truths = recorded(made)
    firing = measure(got, gate_for(made)).firings[-1]
    assert not all(one.own_level for one in firing.sensors)
    assert any("that of other firings" in flag for flag in firing.flags)
    for one, true in zip(firing.sensors, truths[-1].exposure_s, strict=True):
        assert one.exposure.value == pytest.approx(true, rel=0.02)
        assert abs(one.exposure.value - true) < one.exposure.expanded_u


def test_where_the_slit_closes_is_found_between_the_sensors() -> None:
    made = scene(1 / 30, 0.3e-3, 0.3e-3, second=Curtain(gate_s=8e-3, above_film_mm=1.5))
    got, truths = recorded(made)
    result = measure(got, gate_for(made))
    closed = float(truths[-1].along_mm[np.argmax(truths[-1].along_s <= 0)])
    for firing in result.firings[1:]:
        assert firing.dark_mm == (34.0,)
        assert firing.capped is not None
        assert abs(firing.capped.value - closed) < max(firing.capped.expanded_u, 0.5)
    assert compare(result, "1/1000", USER) is None


def test_a_slit_that_is_nearly_closed_at_a_sensor_is_measured_there_and_not_called_capped() -> None:
    made = scene(1 / 30, 0.55e-3, second=Curtain(gate_s=8e-3, above_film_mm=1.5))
    got, truths = recorded(made)
    firing = measure(got, gate_for(made)).firings[1]
    assert not firing.dark_mm
    assert truths[1].exposure_s[2] < 0.2e-3
    for one, true in zip(firing.sensors, truths[1].exposure_s, strict=True):
        assert abs(one.exposure.value - true) < one.exposure.expanded_u


def test_a_curtain_that_is_thrown_back_is_seen_and_its_light_summed() -> None:
    thrown = Curtain(above_film_mm=1.5, brake_mm=0.2, braking_mm=30, stop_mm=0.8, restitution=0.25)
    made = scene(1 / 30, 1e-3, second=thrown)
    got, truths = recorded(made)
    for firing, truth in zip(measure(got, gate_for(made)).firings, truths, strict=True):
        near, middle, far = firing.sensors
        assert near.again is None
        assert middle.again is None
        assert far.again is not None
        assert far.again.light_s == pytest.approx(truth.bounce_s[2], rel=0.03)
        assert far.exposure.value == pytest.approx(truth.exposure_s[2], rel=0.01)
        assert any("thrown back" in flag for flag in firing.flags)


def test_a_capped_end_that_is_lit_by_curtains_thrown_back_is_not_told_without_a_doubt() -> None:
    """The second overtakes the first before the far sensor; thrown back from the stop they let light past it after."""
    stop = {"restitution": 0.63, "stop_mm": 3.25}
    made = replace(
        scene(n_sensors=2),
        first=Curtain(gate_s=12.4e-3, **stop),
        second=Curtain(gate_s=9.3e-3, above_film_mm=1.7, **stop),
        delays_s=(2.05e-3,) * 2,
    )
    kept, truths = recorded(made)
    assert truths[0].exposure_s[1] == 0
    for firing in measure(kept, gate_for(made)).firings:
        assert len(firing.sensors) < 2 or any(flag.startswith("At 34 mm") for flag in firing.flags)


def test_a_lamp_that_flickers_in_the_firing_that_shows_the_level_doubts_and_widens_those_that_use_it() -> None:
    """A slit half as wide as the sensor, too short to show 100 Hz; its level is off by what the lamp does."""
    made = scene(1 / 30, 1 / 4000, diameter_mm=2.0)
    plain, doubted = (
        measure(recorded(replace(made, flicker=part))[0], gate_for(made)).firings[1] for part in (0.0, 0.14)
    )
    assert any("flickers" in flag for flag in doubted.flags)
    assert doubted.sensors[1].exposure.u > 3 * plain.sensors[1].exposure.u


def test_one_firing_alone_is_said_to_show_too_little() -> None:
    """An input that limits looks like another light where there is nothing to compare it with. Common practice."""
    alone, two = (
        measure(recorded(scene(*times_s))[0], gate_for(scene(1 / 500))) for times_s in ((0.002,), (0.002,) * 2)
    )
    assert any("One firing alone" in flag for flag in alone.flags)
    assert not two.flags


def test_a_firing_refused_for_a_lamp_that_flickers_doubts_the_others() -> None:
    """100 Hz by 60 %, seen at 1/30; three firings at 1/500 are over before it shows."""
    made = replace(scene(1 / 30, 1 / 500, 1 / 500, 1 / 500), flicker=0.6)
    found = measure(recorded(made)[0], gate_for(made))
    assert any("flickers" in one.reason for one in found.skipped)
    assert any("lamp flickers" in flag for flag in found.flags)


def test_light_that_leaks_between_channels_is_not_called_a_bounce(samples: np.ndarray) -> None:
    firing = _firings(samples + 0.1 * samples[:, [1, 2, 0]])[0]
    assert any("leak into one another" in flag for flag in firing.flags)
    assert not any("thrown back" in flag for flag in firing.flags)


def test_unsteady_light_widens_the_times_and_holds_the_truth() -> None:
    made = replace(scene(*([2e-3] * 5)), flicker=0.3)
    got, truths = recorded(made)
    result = measure(got, gate_for(made))
    assert any("level differs from firing to firing" in flag for flag in result.flags)
    held = []
    for firing, truth in zip(result.firings, truths, strict=True):
        assert any(line.name == "unsteady light" and line.u > 0 for line in firing.later.budget)
        held += [
            abs(one.exposure.value - true) < one.exposure.expanded_u
            for one, true in zip(firing.sensors, truth.exposure_s, strict=True)
        ]
    assert np.mean(held) > 0.85


def test_two_sensors_tell_their_own_places_as_well_and_the_rest_less_surely() -> None:
    three, two = (measure(recorded(made := scene(1e-3, 1e-3, n_sensors=n))[0], gate_for(made)) for n in (3, 2))
    for one, other in ((three.firings[0].sensors[k], two.firings[0].sensors[m]) for k, m in ((0, 0), (2, 1))):
        assert other.exposure.u == pytest.approx(one.exposure.u, rel=0.2)
    middle = len(two.firings[0].along.at_mm) // 2
    assert two.firings[0].along.u_exposure_s[middle] > 3 * three.firings[0].along.u_exposure_s[middle]


def test_where_sensors_stand_moves_travel_across_the_gate_but_no_exposure_at_a_sensor() -> None:
    """Half a millimetre of 32 mm between the outer sensors is 1.6 % of a travel time over a told distance."""
    got = recorded(scene(1e-3, 1e-3))[0]
    placed = measure(got, replace(EXACT, u_at_mm=0.35)).firings[0]
    exact = measure(got, EXACT).firings[0]
    assert placed.sensors[0].exposure.u == pytest.approx(exact.sensors[0].exposure.u, rel=1e-6)
    assert placed.first.between.u == pytest.approx(exact.first.between.u, rel=1e-6)
    assert placed.later.u == pytest.approx(exact.later.u, rel=1e-6)
    assert placed.first.across.u > 0.016 * placed.first.across.value


def test_firings_at_several_speeds_are_told_apart_and_the_marked_one_is_compared() -> None:
    made = scene(1 / 30, 1 / 1024, 1 / 1024, 1 / 1024)
    got = recorded(made)[0]
    result = measure(got, gate_for(made))
    assert [one.i_firings for one in speeds(result)] == [(1, 2, 3), (0,)]
    compared = compare(result, "1/1000", USER)
    assert compared is not None
    assert compared.i_firings == (1, 2, 3)
    assert compared.verdict == "within"
    assert compared.mean.value == pytest.approx(0, abs=0.02)


def test_a_gate_that_is_right_on_the_mean_and_uneven_is_outside() -> None:
    made = scene(1 / 1024, 1 / 1024, 1 / 1024, second=Curtain(gate_s=9.7e-3, above_film_mm=1.5))
    compared = compare(measure(recorded(made)[0], gate_for(made)), "1/1000", USER)
    assert compared is not None
    assert compared.mean_verdict == "within"
    assert compared.evenness.verdict == "outside"
    assert compared.verdict == "outside"
    assert any("evenness" in flag for flag in compared.flags)


def test_the_certificate_is_told_why_a_gate_that_is_right_on_the_mean_is_outside() -> None:
    made = scene(1 / 30, 1 / 1024, 1 / 1024, 1 / 1024, second=Curtain(gate_s=9.7e-3, above_film_mm=1.5))
    sound, truths = recorded(made)
    record = TEST.run(sound, "1/1000", USER)
    effective, error, uneven, *curtains = record.figures
    assert (error.verdict, error.n, error.is_error, effective.is_error) == ("outside", 3, True, False)
    assert (uneven.name, uneven.verdict, uneven.n, uneven.marked) == ("uneven over the gate", "outside", 3, "1/1000")
    for figure, truth_s in zip(curtains, (np.ptp(truths[1].first_s), np.ptp(truths[1].second_s)), strict=True):
        assert figure.value is not None
        assert figure.expanded_u is not None
        assert abs(figure.value - truth_s) <= 2 * figure.expanded_u, figure.name
    text = "\n".join(TEST.lines(record))
    assert text.index("Not compared with 1/1000: at other speeds") < text.index("(1/30)")
    unmarked = TEST.run(sound, None, USER)
    assert {figure.name for figure in unmarked.figures} == {EFFECTIVE}


@pytest.fixture(scope="module", params=["1/500", None])
def record(request: pytest.FixtureRequest) -> CurtainsRecord:
    """The example with and without a mark."""
    return TEST.run(TEST.simulate(1), request.param, USER)


def test_a_record_says_the_same_when_it_is_read_from_the_store(record: CurtainsRecord) -> None:
    stored = json.loads(json.dumps(codec.written(record)))
    again = codec.read(CurtainsRecord, stored)
    assert leaves(codec.written(again)) == pytest.approx(leaves(stored))
    assert TEST.lines(again) == TEST.lines(record)
    assert TEST.words(again) == TEST.words(record)
    assert TEST.table(again) == TEST.table(record)
    assert figures(again.speeds, again.compared)[1].verdict == record.figures[1].verdict


def test_a_record_of_before_figures_were_kept_reads_with_every_value() -> None:
    """Our own past output, two firings at 1/1000 at two sensors."""
    stored = json.loads((Path(__file__).parents[1] / "pinned" / "curtains.json").read_text("utf-8"))
    again = codec.read(CurtainsRecord, stored)
    written = leaves(codec.written(again))
    assert {key: written[key] for key in leaves(stored)} == pytest.approx(leaves(stored))
    assert again.figures == ()
    assert TEST.lines(again)[0].startswith("2 firings; sensors at 2, 34 mm of a gate of 36 mm")


def test_the_dial_and_the_table_hold_what_was_compared(record: CurtainsRecord) -> None:
    assert TEST.marked is not None
    dial = TEST.marked.speeds(record)
    table = TEST.table(record)
    assert len(table.rows) == len(table.flags) == len(record.firings) == 6
    assert all(len(row) == len(table.heads) for row in table.rows)
    if record.compared is None:
        assert [len(one.i_firings) for one in dial] == [4, 2]
        assert "verdict" not in table.heads
        return
    (one,) = dial
    assert (one.marked, one.i_firings) == ("1/500", (0, 1, 2, 3))
    assert [point.at_mm for point in one.points] == [2, 18, 34]
    assert any("Uneven over the gate" in remark for remark in one.remarks)
    assert [bool(row[-1]) for row in table.rows] == [True] * 4 + [False] * 2


def test_firings_are_told_in_the_order_in_which_they_were_fired(record: CurtainsRecord) -> None:
    """With a mark the record has those compared first; two firings at 1/30 came before them."""
    assert TEST.fired is not None
    told = TEST.fired(record)
    assert [one.at_s for one in told] == sorted(one.at_s for one in record.firings)
    assert all(one.at_s < one.stop_s for one in told)
    assert [one.compared is not None for one in told] == [False] * 2 + [record.compared is not None] * 4
