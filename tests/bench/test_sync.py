"""The flash contact against the light: exact shapes, published windows, invariance, refusals, findings."""

import json
from collections.abc import Callable
from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from camerawright.bench import codec
from camerawright.bench.options import quoted
from camerawright.bench.sync import run, tell, uses
from camerawright.bench.sync.measure import measure
from camerawright.bench.sync.record import Measured, SyncRecord
from camerawright.bench.sync.simulate import Card, Contact, Scene
from camerawright.handbook import sync
from camerawright.handbook.light_sensors import SENSORS
from camerawright.trouble import NotMeasurable, NotUnderstood
from tests import published
from tests.bench.sync_scenes import RATE_HZ, Floats, exact, recorded, scene, waveform

GLOSSARY = published.load("sync-glossary")
QUIET = Card(noise_light=1e-3, noise_contact=1e-3)
IDEAL = replace(SENSORS[2], lag_s=0.0)


@pytest.mark.parametrize("make_s", [-14e-3, 0.5e-3, 2.0e-3, 5.0e-3])
def test_the_instants_of_a_trapezoid_are_those_of_its_closed_form(make_s: float) -> None:
    """A straight edge of 2 ms passes a part p of its height at p times 2 ms."""
    result = measure(exact(2e-3, 15e-3, 3e-3, make_s, 8e-3), sensor=IDEAL)
    assert len(result.firings) == 2
    for firing in result.firings:
        for name, part in sync.PARTS.items():
            assert firing.delay(name).value == pytest.approx(make_s - part * 2e-3, abs=15e-6), name
        assert firing.to_closing is not None
        assert firing.to_closing.value == pytest.approx(2e-3 + 15e-3 + 0.05 * 3e-3 - make_s, abs=15e-6)
        assert firing.open_for.value == pytest.approx(15e-3 + 0.05 * (2e-3 + 3e-3), abs=15e-6)
        assert firing.dwell is not None
        assert firing.dwell.value == pytest.approx(8e-3, abs=2e-6)


def test_how_long_the_light_stands_above_half_is_told_with_an_interval_that_holds() -> None:
    """From half light to half light again, against what the simulator knows; a hundredth of the time is not needed."""
    all_of = [recorded(scene(hold_s=8e-3), seed) for seed in range(12)]
    kept = all_of[-1][0]
    found = [firing for each, _ in all_of for firing in measure(each).firings]
    truths = [truth for _, true in all_of for truth in true]
    off = [
        abs(one.half_peak.value - (t.fall_s[0.5] - t.rise_s[0.5])) / one.half_peak.u
        for one, t in zip(found, truths, strict=True)
    ]
    assert max(off) < 4
    assert max(one.half_peak.u for one in found) < 1e-2 * 8e-3
    assert run(kept).firings[0].half_peak.u == pytest.approx(found[-3].half_peak.u)


def test_the_windows_are_those_that_the_glossary_prints() -> None:
    for window, name in (
        (sync.window("M", "leaf"), "m_leaf"),
        (sync.window("M", "focal-plane"), "m_focal_plane"),
        (sync.window("FP", "focal-plane"), "fp"),
    ):
        assert window is not None
        assert GLOSSARY[f"{name}_least_ms"].holds(1e3 * window.least_s)
        assert GLOSSARY[f"{name}_most_ms"].holds(1e3 * window.most_s)


@pytest.mark.parametrize(
    ("lead_ms", "word"), [(12.5, "outside"), (13.5, "within"), (18.5, "within"), (19.5, "outside"), (19.0, "undecided")]
)
def test_an_m_contact_is_judged_by_its_lead_to_80_percent_open(lead_ms: float, word: str) -> None:
    """Exact at the limit, so the trapezoid is: 80 % of a straight edge of 2 ms is at 1.6 ms."""
    made = exact(2e-3, 15e-3, 2e-3, 1.6e-3 - 1e-3 * lead_ms - 10e-6, 30e-3)
    classes = {one.contact: one for one in run(made, contact="M").at_speeds[0].classes}
    assert classes["M"].verdict == word
    assert classes["X"].verdict == "outside"


@pytest.mark.parametrize(
    ("make_ms", "verdict_x", "usable"),
    [(1.5, "outside", "no"), (2.2, "within", "yes"), (16.5, "within", "no"), (18.0, "outside", "no")],
)
def test_x_must_make_while_fully_open_and_a_flash_must_end_before_the_closing(
    make_ms: float, verdict_x: str, usable: str
) -> None:
    """Open from 1.9 to 17.1 ms; the flash takes one: [flash-duration], 1/1000 s for the weaker ones."""
    record = run(exact(2e-3, 15e-3, 2e-3, 1e-3 * make_ms, 5e-3), "1/60", contact="X")
    assert {one.contact: one.verdict for one in record.at_speeds[0].classes}["X"] == verdict_x
    assert record.at_speeds[0].lights[0].usable == usable
    assert record.at_speeds[0].marked == "1/60"
    assert record.compared is None


def test_one_bad_firing_of_three_is_enough_for_a_no() -> None:
    good, bad = exact(2e-3, 15e-3, 2e-3, 2.5e-3, 5e-3), exact(2e-3, 15e-3, 2e-3, 1e-3, 5e-3)
    joined = waveform(np.concatenate([good.samples, bad.samples]).astype(float), bits=None)
    record = run(joined)
    assert [firing.usable_for_flash for firing in record.firings] == ["yes", "yes", "no", "no"]
    assert record.at_speeds[0].lights[0].usable == "no"


def test_a_focal_plane_is_never_within_for_x_by_one_sensor() -> None:
    made = exact(1e-3, 15e-3, 1e-3, 3e-3, 5e-3)
    for place in ("start", "middle", "end"):
        record = run(made, shutter="focal-plane", sensor_at=place, contact="X")
        classes = {one.contact: one for one in record.at_speeds[0].classes}
        assert classes["X"].verdict == "undecided"
        assert (classes["M"].verdict is None) == (place != "middle")
        assert (classes["FP"].verdict is None) == (place != "start")
    early_made = exact(1e-3, 15e-3, 1e-3, 0.2e-3, 5e-3)
    early = run(early_made, shutter="focal-plane", sensor_at="end", contact="X")
    assert {one.contact: one.verdict for one in early.at_speeds[0].classes}["X"] == "outside"


@pytest.mark.parametrize("gaps_us", [((243.48, 95.94), (391.76, 27.02)), ((152.22, 67.38), (448.99, 25.54))])
def test_a_last_bounce_of_a_sample_does_not_end_the_closure(gaps_us: tuple[tuple[float, float], ...]) -> None:
    """The make after it hides behind the break before it; a stranger's recordings were told to close for 8 of 30 ms."""
    gaps_s = tuple((1e-6 * start, 1e-6 * length) for start, length in gaps_us)
    outcome = run(recorded(scene(Contact(2e-3, 32e-3, gaps_s)))[0])
    assert [firing.dwell.value for firing in outcome.firings if firing.dwell] == pytest.approx([30e-3] * 3, abs=5e-6)


def test_bounces_are_counted_and_the_longest_is_timed() -> None:
    contact = Contact(2e-3, 12e-3, ((100e-6, 90e-6), (400e-6, 420e-6)), late_s=((0.5e-3, 0.3e-3), (4.5e-3, 0.6e-3)))
    outcome = run(recorded(scene(contact))[0])
    for firing in outcome.firings:
        assert firing.n_bounces == 2
        assert firing.longest_bounce is not None
        assert firing.longest_bounce.value == pytest.approx(420e-6, abs=5e-6)
        assert firing.settling_s == pytest.approx(820e-6, abs=5e-6)
        assert firing.n_late == 1
        assert firing.bounce_verdict == "outside"
        flags = " ".join(firing.flags)
        assert "bounces" in flags
        assert "fire twice" in flags


@pytest.mark.parametrize(("ohm", "word"), [(0.1, ("low", "undecided")), (5.0, ("raised",)), (40.0, ("high",))])
def test_the_resistance_follows_from_a_wire_that_bridged_the_contact(ohm: float, word: tuple[str, ...]) -> None:
    made = scene(Contact(ohm=ohm), bridged_s=0.5)
    firing = run(recorded(made)[0], series_ohm="220").firings[0]
    assert firing.resistance is not None
    assert firing.resistance.value == pytest.approx(ohm, abs=2 * firing.resistance.u)
    assert firing.resistance_class in word
    untold = run(recorded(scene(Contact(ohm=ohm)))[0], series_ohm="220")
    assert untold.firings[0].resistance is None
    assert "its resistance is not known" in " ".join(untold.flags)


def test_a_contact_that_never_closes_is_a_finding() -> None:
    record = run(recorded(scene(Contact(closes=False)))[0])
    assert record.refused is None
    assert [firing.has_closed for firing in record.firings] == [False] * 3
    assert record.at_speeds[0].lights[0].usable == "undecided"
    assert "never closed" in record.flags[0]
    assert "bridge it" in record.flags[0]
    sure = run(recorded(scene(Contact(closes=False), bridged_s=0.5))[0])
    assert "the lead is whole" in " ".join(sure.flags)
    assert [firing.has_closed for firing in sure.firings] == [False] * 3
    assert sure.at_speeds[0].lights[0].usable == "no"


def test_a_contact_that_misses_one_firing_is_found_out() -> None:
    made, truths = recorded(scene())
    samples = made.samples.astype(float)
    second = slice(int((truths[1].rise_s[0.5] - 0.1) * RATE_HZ), int((truths[1].rise_s[0.5] + 0.2) * RATE_HZ))
    samples[second, 1] = 1e-3 * np.random.default_rng(1).standard_normal(samples[second, 1].size)
    record = run(waveform(samples))
    assert [firing.has_closed for firing in record.firings] == [True, False, True]
    assert "did not close at this firing" in " ".join(record.firings[1].flags)
    assert record.at_speeds[0].lights[0].usable == "no"


@pytest.mark.parametrize(
    "change",
    [
        lambda s: 0.4 * s,
        lambda s: s + 0.05,
        lambda s: -s,
        lambda s: s * np.array([1, -1]),
        lambda s: s[:, ::-1],
        lambda s: np.concatenate([s[:1234], s]),
    ],
    ids=["gain", "offset", "polarity", "polarity of the contact", "channels", "time"],
)
def test_what_must_not_matter_does_not(change: Callable[[Floats], Floats]) -> None:
    samples = recorded(scene())[0].samples.astype(float)
    ours, theirs = measure(waveform(samples, bits=None)), measure(waveform(change(samples), bits=None))
    for one, other in zip(ours.firings, theirs.firings, strict=True):
        assert one.has_closed
        assert other.has_closed
        for name in sync.PARTS:
            assert one.delay(name).value == pytest.approx(other.delay(name).value, abs=2e-6)
        assert one.n_bounces == other.n_bounces


@pytest.mark.parametrize("rate_hz", [44_100.0, 96_000.0, 192_000.0])
def test_the_sampling_rate_does_not_matter(rate_hz: float) -> None:
    result, truths = _measured(scene(card=replace(QUIET, rate_hz=rate_hz)))
    for firing, truth in zip(result.firings, truths, strict=True):
        assert truth.make_s is not None
        assert abs(firing.delay("80 % open").value - (truth.make_s - truth.rise_s[0.8])) < 15e-6


@pytest.mark.parametrize("hold_s", [0.5, 1 / 30, 4e-3, 2.4e-3])
@pytest.mark.parametrize("corners_hz", [(), (20.0,), (14.0, 2.0)])
def test_speed_and_the_corners_of_either_channel_do_not_matter(hold_s: float, corners_hz: tuple[float, ...]) -> None:
    card = replace(QUIET, light_corners_hz=corners_hz, contact_corners_hz=corners_hz[::-1])
    result, truths = _measured(scene(Contact(2.1e-3, 2.1e-3 + 0.8 * hold_s), hold_s, card=card))
    for firing, truth in zip(result.firings, truths, strict=True):
        assert truth.make_s is not None
        assert abs(firing.delay("80 % open").value - (truth.make_s - truth.rise_s[0.8])) < 20e-6
        assert firing.dwell is not None
        assert firing.dwell.value == pytest.approx(0.8 * hold_s, abs=5e-6)


def _measured(made: Scene) -> tuple[Measured, tuple]:  # type: ignore[type-arg]
    heard, truths = recorded(made)
    return measure(heard), truths


def test_a_known_skew_is_taken_off_and_its_budget_shrinks() -> None:
    made = scene(card=replace(QUIET, skew_s=15e-6))
    heard, truths = recorded(made)
    plain, told = measure(heard), measure(heard, skew_s=15e-6)
    for one, other, truth in zip(plain.firings, told.firings, truths, strict=True):
        assert other.delay("half light").value - one.delay("half light").value == pytest.approx(15e-6, abs=1e-9)
        assert truth.make_s is not None
        assert abs(other.delay("half light").value - (truth.make_s - truth.rise_s[0.5])) < 5e-6
        assert other.delay("half light").u < 0.7 * one.delay("half light").u


def _mixed(part: float) -> Floats:
    """Both channels carry the light, one of them softer."""
    samples = recorded(scene(Contact(closes=False)))[0].samples.astype(float)
    rng = np.random.default_rng(0)
    return np.column_stack([samples[:, 0], part * samples[:, 0] + 1e-4 * rng.standard_normal(len(samples))])


def _mono() -> Floats:
    return np.repeat(recorded(scene())[0].samples[:, :1].astype(float), 2, axis=1)


def _samples(**card: float) -> Floats:
    return recorded(scene(card=replace(QUIET, **card)))[0].samples.astype(float)  # type: ignore[arg-type]


REFUSED: dict[str, tuple[Callable[[], Floats], str]] = {
    "mono": (lambda: _samples()[:, 0], "two are needed"),
    "mono in stereo": (_mono, "same signal"),
    "light in both": (lambda: _mixed(0.5), "same signal"),
    "light leaks loudly": (lambda: _mixed(0.1), "same signal"),
    "contact in both": (lambda: _samples()[:, [1, 1]], "same signal"),
    "two contacts": (lambda: _samples()[:, [1, 1]] * [1, 0.5], "both channels step"),
    "contact at 24 dB": (lambda: _samples(noise_contact=0.06), "dB above the noise"),
    "contact at 12 dB": (lambda: _samples(noise_contact=0.25), "30 dB"),
    "light at 28 dB": (lambda: _samples(noise_light=0.04), "light stands only"),
    "contact clipped": (lambda: _samples(contact_fs=1.5), "contact's channel is clipped"),
    "light clipped": (lambda: _samples(light_fs=1.5), "light of this firing is clipped"),
    "no light": (lambda: _samples() * [0, 1], "no light"),
    "silence": (lambda: np.zeros((96_000, 2)), "same signal"),
    "noise": (lambda: np.random.default_rng(1).normal(0, 0.01, (96_000, 2)), "no light"),
    "a moment": (lambda: _samples()[:1000], "no light"),
    "two samples": (lambda: np.array([[0.0, 0.1], [0.2, 0.1]]), "no light"),
}


@pytest.mark.parametrize(("samples", "reason"), REFUSED.values(), ids=REFUSED.keys())
def test_what_cannot_be_measured_is_refused_with_what_to_do(samples: Callable[[], Floats], reason: str) -> None:
    with pytest.raises(NotMeasurable, match=reason) as caught:
        measure(waveform(samples()))
    assert caught.value.mend


def test_light_that_leaks_a_little_into_the_contacts_channel_is_no_closure() -> None:
    record = run(waveform(_mixed(0.004)))
    assert record.refused is None
    assert not any(firing.has_closed for firing in record.firings)
    assert "crosstalk" in " ".join(record.flags)


def test_a_mains_lamp_is_said_and_widens_the_budget() -> None:
    made, _ = recorded(scene(hold_s=0.2, card=replace(QUIET, light_corners_hz=(), contact_corners_hz=())))
    samples = made.samples.astype(float)
    t = np.arange(len(samples)) / RATE_HZ
    flickering = samples * np.column_stack([1 + 0.1 * np.cos(2 * np.pi * 100 * t), np.ones_like(t)])
    plain, wide = (measure(waveform(s)).firings[0] for s in (samples, flickering))
    assert "mains lamp" in " ".join(wide.flags)
    assert wide.delay("80 % open").u > 2 * plain.delay("80 % open").u


def test_a_lamp_that_is_caught_at_another_moment_each_time_is_said() -> None:
    """1/250 of a lamp that moves by 40 % at 100 Hz: the tops differ."""
    made, _ = recorded(scene(hold_s=4e-3, n=4, card=replace(QUIET, light_corners_hz=(), contact_corners_hz=())))
    t = np.arange(len(made.samples)) / RATE_HZ
    lamp = np.column_stack([1 + 0.4 * np.cos(2 * np.pi * 99.3 * t), np.ones_like(t)])
    assert not run(made, contact="X").flags
    assert "differs by" in " ".join(run(waveform(made.samples.astype(float) * lamp)).flags)


def test_full_open_that_a_lamp_moves_in_one_firing_of_several_is_said() -> None:
    """Three firings of 8 ms; in the second the light rises by 8 % while the shutter is open: 95 % comes late."""
    made, truths = recorded(scene(hold_s=8e-3, card=replace(QUIET, light_corners_hz=(), contact_corners_hz=())))
    t = np.arange(len(made.samples)) / RATE_HZ
    rises = 1 + 0.08 * np.clip((t - truths[1].rise_s[0.5]) / 6e-3, 0, 1) * (t < truths[1].fall_s[0.1] + 1e-3)
    lamp = np.column_stack([rises, np.ones_like(t)])
    flags = " ".join(run(waveform(made.samples.astype(float) * lamp), contact="X").flags)
    assert "blades open alike" in flags


def test_another_speed_than_the_mark_says_is_flagged() -> None:
    assert "another speed was set" in " ".join(run(recorded(scene())[0], "1/500").flags)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"contact": "Y"}, "contact: "),
        ({"shutter": "rotary"}, "shutter: "),
        ({"series_ohm": "much"}, "series-ohm: "),
        ({"flash_ms": "-1"}, "flash-ms: "),
        ({"skew_us": "1e9"}, "skew-us: "),
    ],
)
def test_an_option_that_makes_no_sense_names_itself(options: dict[str, str], message: str) -> None:
    with pytest.raises(NotUnderstood, match=message):
        run(recorded(scene(n=1))[0], None, None, **options)


def test_every_class_has_a_say_for_every_shutter() -> None:
    made = recorded(scene(n=1))[0]
    for shutter in get_args(sync.Shutter):
        classes = run(made, shutter=shutter).at_speeds[0].classes
        assert [one.contact for one in classes] == list(sync.CONTACTS)
        assert all(one.says and one.source for one in classes)


def test_the_figures_are_the_class_under_test_the_dwell_and_what_may_be_used() -> None:
    record = run(exact(2e-3, 15e-3, 2e-3, 2.4e-3, 5e-3), contact="X")
    delay, dwell, flash, *bulbs = record.figures
    assert delay.name == "class X contact, from full open to the make"
    assert delay.value is not None
    assert delay.expanded_u is not None
    assert abs(delay.value - 0.5e-3) <= delay.expanded_u  # 95 % of an edge of 2 ms is at 1.9 ms
    assert (delay.unit, delay.verdict, delay.n) == ("s", "within", 2)
    assert (dwell.name, dwell.verdict, dwell.n) == ("contact stays closed", "within", 2)
    assert dwell.value == pytest.approx(5e-3, abs=2e-6)
    assert (flash.name, flash.value, flash.says) == ("electronic flash of 1 ms by the X contact", None, "usable")
    assert [one.name for one in bulbs] == ["class M bulb by the X contact", "class F bulb by the X contact"]
    assert not any(one.is_error for one in record.figures)
    never = run(recorded(scene(Contact(closes=False), bridged_s=0.5))[0], contact="X").figures
    assert [one.says for one in never] == ["does not close", *["not usable"] * 3]


def test_a_dwell_too_short_for_a_flash_is_outside() -> None:
    """From memory: 1 ms fires a flash; here 0.6."""
    record = run(exact(2e-3, 15e-3, 2e-3, 2.4e-3, 0.6e-3), contact="X")
    (dwell,) = (one for one in record.figures if one.name == "contact stays closed")
    assert dwell.value == pytest.approx(0.6e-3, abs=2e-6)
    assert dwell.verdict == "outside"
    assert "closed for only 0.60 ms" in " ".join(record.firings[0].flags)


def test_a_contact_that_nobody_named_is_within_no_class() -> None:
    """0.4 ms too early for X it still lights the bulb of class F in time: that it fits some class is no verdict."""
    record = run(exact(2e-3, 15e-3, 2e-3, 1.5e-3, 20e-3))
    (at,) = record.at_speeds
    assert {one.contact: one.verdict for one in at.classes} == {
        "X": "undecided", "M": "undecided", "F": "undecided", "FP": None,
    }  # fmt: skip
    assert {word for firing in record.firings for word in firing.verdicts.values()} == {"undecided", None}
    assert any("as X it would be outside" in flag and quoted(uses.UNDER_TEST) in flag for flag in record.flags)
    said = "\n".join(tell.lines(record))
    assert "for class X it would be outside" in said
    assert "for class F it would be within" in said
    delay, _, flash, *_ = record.figures
    assert (delay.name, delay.verdict) == ("a contact that was not named, from full open to the make", "undecided")
    assert delay.value is not None
    assert delay.expanded_u is not None
    assert abs(delay.value + 0.4e-3) <= delay.expanded_u  # 95 % of an edge of 2 ms is at 1.9 ms
    assert (flash.name, flash.says) == ("electronic flash of 1 ms by a contact that was not named", "not usable")


@pytest.mark.parametrize("contact", ["X", None])
def test_a_stored_record_says_what_it_said_when_it_was_measured(contact: str | None) -> None:
    """Three speeds, and a contact that never closes; an older record, which has no figures, gets them."""
    for made in (_at_speeds(2.2e-3), scene(Contact(closes=False))):
        record = run(recorded(made)[0], None, None, **({"contact": contact} if contact else {}))
        stored = json.loads(json.dumps(codec.written(record)))
        older = {key: value for key, value in stored.items() if key != "figures"}
        for again in (codec.read(SyncRecord, stored), codec.read(SyncRecord, older)):
            assert (tell.lines(again), tell.table(again)) == (tell.lines(record), tell.table(record))
            assert [one.value for one in again.figures] == [one.value for one in record.figures]


SPEEDS_S = (1 / 30, 1 / 125, 1 / 500)


def _at_speeds(make_s: float, contact: Contact | None = None) -> Scene:
    """Two firings at each of three speeds, mixed; blades open after about 2 ms and close in as much."""
    holds = tuple(time_s for time_s in SPEEDS_S for _ in range(2))
    order = (0, 2, 4, 1, 3, 5)
    return replace(scene(contact or Contact(make_s, make_s + 12e-3)), hold_s=tuple(holds[i] for i in order))


def _lights(record: SyncRecord, i: int) -> dict[str, str]:
    return {one.light.split(" of ")[0]: one.usable for one in record.at_speeds[i].lights}


def test_firings_are_sorted_to_the_marks_and_each_speed_is_judged() -> None:
    """Made 2.2 ms after the release: the blades of 1/30 and 1/125 stand fully open for a flash, and X fits; a bulb
    that peaks 20 or 5 ms later meets them open at 1/30, or at 1/125 too."""
    record = run(recorded(_at_speeds(2.2e-3))[0], "1/125, 1/500, 1/30", contact="X")
    assert [at.marked for at in record.at_speeds] == ["1/30", "1/125", "1/500"]
    assert [at.i_firings for at in record.at_speeds] == [(0, 3), (1, 4), (2, 5)]
    assert _lights(record, 0) == {"electronic flash": "yes", "class M bulb": "yes", "class F bulb": "yes"}
    assert _lights(record, 1) == {"electronic flash": "yes", "class M bulb": "no", "class F bulb": "undecided"}
    assert _lights(record, 2)["class M bulb"] == "no"
    assert _lights(record, 2)["electronic flash"] == "no"
    told = [(one.name, one.says, one.marked) for one in record.figures]
    assert ("electronic flash of 1 ms by the X contact", "usable", "1/125") in told
    assert any(what.startswith("class X contact, from") and marked == "1/30" for what, _, marked in told)
    assert "1/125      YES" in "\n".join(tell.lines(record))


def test_without_marks_the_speeds_are_found_and_named_by_the_nearest() -> None:
    record = run(recorded(_at_speeds(2.2e-3))[0])
    assert [at.likely for at in record.at_speeds] == ["1/30", "1/125", "1/500"]
    assert [at.marked for at in record.at_speeds] == [None] * 3


def test_more_marks_than_speeds_are_refused() -> None:
    with pytest.raises(NotUnderstood, match="3 marked speeds were given"):
        run(recorded(scene())[0], "1/30,1/60,1/125")


@pytest.mark.parametrize(
    ("ohm", "name", "flash", "bulb"),
    [("0.3", "low", "yes", "yes"), ("4", "raised", "yes", "undecided"), ("30", "high", "undecided", "no"),
     ("1", "undecided", "yes", "yes"), ("500", "very high", "undecided", "no")],
)  # fmt: skip
def test_what_a_resistance_by_the_meter_means_for_flash_and_for_bulbs(
    ohm: str, name: str, flash: str, bulb: str
) -> None:
    """Common practice: 0.5 to 1 ohm pass; an electronic flash's trigger takes milliamperes, a bulb an ampere."""
    record = run(recorded(scene(Contact(2.2e-3, 14e-3), hold_s=0.1))[0], contact_ohm=ohm)
    assert {firing.resistance_class for firing in record.firings} == {name}
    assert _lights(record, 0) == {"electronic flash": flash, "class M bulb": bulb, "class F bulb": bulb}
    assert ("clean" in " ".join(record.flags)) == (name not in ("low", "undecided"))


def test_a_bulb_wants_the_contact_closed_for_longer_than_a_flash() -> None:
    """From memory: 1 ms fires a flash, a bulb wants 5."""
    record = run(recorded(scene(Contact(2.2e-3, 5.2e-3), hold_s=0.1))[0])
    assert _lights(record, 0) == {"electronic flash": "yes", "class M bulb": "undecided", "class F bulb": "undecided"}
    assert "closed for less than the 5 ms" in record.at_speeds[0].lights[1].says


def _thumps(t: Floats, rng: np.random.Generator, height: float) -> Floats:
    """Six blows to the lead: 20 to 300 Hz, dying away in 3 to 30 ms."""
    out = np.zeros_like(t)
    for at_s in rng.uniform(0, t[-1], 6):
        shape = np.exp(-np.maximum(t - at_s, 0) / rng.uniform(3e-3, 30e-3)) * np.sin(
            2 * np.pi * rng.uniform(20, 300) * t
        )
        out += height * rng.uniform(0.3, 1) * shape * (t > at_s)
    return out


SPOILS: dict[str, Callable[[Floats, Floats, np.random.Generator], Floats]] = {
    "thumps": lambda s, t, rng: s + np.column_stack([0 * t, _thumps(t, rng, 0.3)]),
    "hum": lambda s, t, rng: s + np.column_stack([0 * t, 0.15 * np.sin(2 * np.pi * 50 * t)]),
    "mains on the contact": lambda s, t, rng: s + np.column_stack([0 * t, 0.3 * np.sign(np.sin(2 * np.pi * 50 * t))]),
    "crosstalk": lambda s, t, rng: s @ np.array([[1, 0.2], [0.2, 1]]),
    "clicks": lambda s, t, rng: s + 0.3 * (rng.uniform(size=s.shape) < 1e-4),
    "noise": lambda s, t, rng: s + 0.03 * rng.standard_normal(s.shape),
    "the contact dead": lambda s, t, rng: s * np.array([1, 0]) + 1e-5 * rng.standard_normal(s.shape),
    "the light dead": lambda s, t, rng: s * np.array([0, 1]) + 1e-5 * rng.standard_normal(s.shape),
}


@pytest.mark.parametrize("spoil", SPOILS.values(), ids=SPOILS.keys())
@pytest.mark.parametrize(("make_s", "usable"), [(3e-3, "yes"), (0.8e-3, "no")])
def test_a_spoilt_recording_is_refused_flagged_or_right(
    spoil: Callable[[Floats, Floats, np.random.Generator], Floats], make_s: float, usable: str
) -> None:
    """A wrong word without a flag would cost a film."""
    samples = recorded(scene(Contact(make_s, 14e-3)))[0].samples.astype(float)
    t = np.arange(len(samples)) / RATE_HZ
    record = run(waveform(np.clip(spoil(samples, t, np.random.default_rng(4)), -1, 1)), contact="X")
    if record.refused:
        assert record.refused.advice
        return
    for firing in record.firings:
        assert firing.usable_for_flash in (usable, "undecided") or firing.flags or record.flags


def test_a_contact_that_closes_again_while_the_shutter_is_open_is_said() -> None:
    record = run(recorded(scene(Contact(2.2e-3, 8e-3, late_s=((9e-3, 5e-3),)), hold_s=40e-3))[0])
    assert all("closes 2 times" in " ".join(firing.flags) for firing in record.firings)


def test_leads_that_lie_together_are_said() -> None:
    assert "leaks" in " ".join(run(recorded(scene(card=replace(QUIET, crosstalk=0.2)))[0]).flags)
    assert not run(recorded(scene(card=replace(QUIET, crosstalk=0.005)))[0], contact="X").flags


def test_firings_too_close_together_are_each_doubted_the_first_as_well() -> None:
    """36 ms apart, the contact closed for most of it: what opens and closes in between cannot be told apart."""
    made = scene(Contact(make_s=0.0, break_s=0.018), hold_s=1 / 125, gap_s=0.0325)
    found = measure(recorded(made)[0])
    assert len(found.firings) == 3
    assert all(any("another firing" in flag for flag in firing.flags) for firing in found.firings)
