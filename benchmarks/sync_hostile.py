"""Flash contact against the light: recordings made to mislead; a wrong verdict must be flagged, or refused."""

import sys
from collections import Counter
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.sync import simulate
from camerawright.bench.sync.budget import U_CLOCK, U_SKEW_SAMPLES
from camerawright.bench.sync.judge import judge
from camerawright.bench.sync.measure import measure
from camerawright.bench.sync.record import Measured, Speed
from camerawright.bench.sync.simulate import Card, Contact, Scene, Truth, Unseen
from camerawright.bench.sync.uses import Setup
from camerawright.handbook.light_sensors import PHOTODIODE
from camerawright.handbook.sync import FLASH_S, PEAKS
from camerawright.quantity import Verdict
from camerawright.recordings.sound import Waveform
from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

UNSEEN = Unseen(U_SKEW_SAMPLES / 48_000, U_CLOCK, PHOTODIODE.lag_s, PHOTODIODE.u_lag_s, PHOTODIODE.u_bend)
MARGIN_S = 0.1e-3
"""A verdict is wrong where the truth is that far on the other side of a limit."""
SPOILS = (
    "noise", "hum", "crosstalk", "thumps", "never closes", "misses one", "closes twice", "early", "clipped",
    "low rate", "dead channel", "skewed", "8 bit", "flicker", "clicks", "swapped", "no gap", "mains on contact",
)  # fmt: skip


def hostile(seed: int) -> tuple[Scene, set[str], float, np.random.Generator]:
    """A scene, what goes wrong in it (one to three things), and how badly."""
    rng = np.random.default_rng([78, seed])
    spoils = {str(s) for s in rng.choice(SPOILS, int(rng.integers(1, 4)), replace=False)}
    if "no gap" in spoils:
        spoils.discard("misses one")  # what is taken out would be of two firings
    severity = float(rng.uniform())
    hold_s = float(2.0 ** -rng.uniform(1, 9))
    make_s = float(rng.choice([rng.uniform(-25e-3, 0), rng.uniform(0, 1.2) * (hold_s + 3e-3)], p=[0.4, 0.6]))
    scene = simulate.drawn(make_s, hold_s, float(rng.uniform(36, 60)), UNSEEN, rng)
    gap_s = float(rng.uniform(0.03, 0.2)) if "no gap" in spoils else scene.gap_s
    card, contact = _card(scene.card, spoils, severity, rng), _contact(scene.contact, spoils, severity, rng)
    return replace(scene, card=card, contact=contact, gap_s=gap_s), spoils, severity, rng


def _card(card: Card, spoils: set[str], severity: float, rng: np.random.Generator) -> Card:
    """The card with what is wrong with it."""
    changed: dict[str, dict[str, float]] = {
        "noise": {"noise_light": 0.15 * severity, "noise_contact": float(rng.uniform(0, 0.15))},
        "crosstalk": {"crosstalk": 0.3 * severity},
        "clipped": {"light_fs": float(rng.uniform(0.5, 2)), "contact_fs": float(rng.uniform(0.5, 2))},
        "low rate": {"rate_hz": float(rng.choice([16_000, 22_050, 32_000]))},
        "skewed": {"skew_s": float(rng.choice([-1, 1])) * 60e-6 * severity},
        "8 bit": {"bits": 8},
    }
    for spoil in sorted(spoils & changed.keys()):
        card = replace(card, **changed[spoil])  # type: ignore[arg-type]
    return card


def _contact(contact: Contact, spoils: set[str], severity: float, rng: np.random.Generator) -> Contact:
    """The contact with what is wrong with it; an early one lets go before the shutter opens."""
    if "never closes" in spoils:
        contact = replace(contact, closes=False)
    if "closes twice" in spoils:
        contact = replace(contact, late_s=((float(rng.uniform(0.5e-3, 30e-3)), float(rng.uniform(0.3e-3, 5e-3))),))
    if "early" in spoils:
        contact = replace(contact, make_s=-30e-3 * severity - 3e-3, break_s=-2e-3)
    return contact


def spoilt(samples: Floats, scene: Scene, truths: tuple[Truth, ...], spoils: set[str], severity: float,
           rng: np.random.Generator) -> tuple[Floats, tuple[Truth, ...]]:  # fmt: skip
    """The recording with what is not the card's laid over; and its truths, where that changes them."""
    card = scene.card
    t = np.arange(len(samples)) / card.rate_hz
    i_light = 1 if card.is_light_second else 0
    light, contact = samples[:, i_light], samples[:, 1 - i_light]
    if "misses one" in spoils:
        reach_s = 0.05 + truths[1].fall_s[0.5] - truths[1].rise_s[0.5]
        missed = np.abs(t - truths[1].rise_s[0.5]) < reach_s
        contact[missed] = card.noise_contact * card.contact_fs * rng.standard_normal(int(missed.sum()))
        truths = (truths[0], replace(truths[1], make_s=None, break_s=None), *truths[2:])
    if "flicker" in spoils:
        light *= 1 + 0.5 * severity * np.cos(2 * np.pi * float(rng.choice([100, 120])) * t)
    for level, height in ((light, card.light_fs), (contact, card.contact_fs)):
        _disturb(level, height * severity, t, spoils, rng)
    if "mains on contact" in spoils:
        contact += card.contact_fs * severity * np.sign(np.sin(2 * np.pi * 50 * t))
    if "dead channel" in spoils:
        samples[:, int(rng.integers(2))] = 1e-5 * rng.standard_normal(len(samples))
    return np.clip(samples[:, ::-1] if "swapped" in spoils else samples, -1, 1), truths


def _disturb(level: Floats, height: float, t: Floats, spoils: set[str], rng: np.random.Generator) -> None:
    """Hum, thumps and clicks on one channel."""
    if "hum" in spoils:
        level += 0.3 * height * rng.uniform() * np.sin(2 * np.pi * 50 * t + rng.uniform(0, 6))
    for _ in range(int(rng.integers(1, 8)) if "thumps" in spoils else 0):
        at_s, length_s = rng.uniform(0, t[-1]), rng.uniform(2e-3, 30e-3)
        shape = np.exp(-np.maximum(t - at_s, 0) / length_s) * np.sin(2 * np.pi * rng.uniform(20, 300) * t)
        level += height * rng.uniform() * shape * (t > at_s)
    if "clicks" in spoils:
        at = rng.integers(0, len(level), int(rng.integers(1, 8)))
        level[at] += height * rng.choice([-1, 1], len(at)) * rng.uniform(0.3, 1.2, len(at))


def is_usable(truth: Truth, later_s: float, lasts_s: float, slack_s: float) -> bool:
    """Whether a light of that peak falls while the shutter is fully open, limits moved out by the slack."""
    if truth.make_s is None:
        return False
    at_s = truth.make_s + later_s
    return truth.rise_s[0.95] - slack_s <= at_s <= truth.fall_s[0.95] - lasts_s + slack_s


def wrong(result: Measured, judged: tuple[Speed, ...], truths: tuple[Truth, ...]) -> list[tuple[int, str]]:
    """Firings with a decided verdict that is not so by more than the margin; a firing that never was is one too."""
    out = []
    for one in judged:
        singles_m = next(c for c in one.classes if c.contact == "M").singles
        for n, i in enumerate(one.i_firings):
            at_s = result.firings[i].at_s
            truth = min(truths, key=lambda t: abs(t.rise_s[0.5] - at_s))
            if abs(truth.rise_s[0.5] - at_s) > 5e-3:
                out.append((i, "no firing"))
                continue
            lights = ((0.0, 0.0, FLASH_S), *((p.after_s, p.u_after_s, 0.0) for p in PEAKS))
            for use, (later_s, u_s, lasts_s) in zip(one.lights, lights, strict=True):
                slack_s = MARGIN_S + u_s
                is_so = tuple(is_usable(truth, later_s, lasts_s, slack) for slack in (slack_s, -slack_s))
                out += [(i, f"{use.light}: {word}") for word in _against(use.singles[n], *is_so)]
            is_so = tuple(is_m(truth, slack) for slack in (MARGIN_S, -MARGIN_S))
            out += [(i, f"class M: {word}") for word in _against(singles_m[n], *is_so)]
    return out


def is_m(truth: Truth, slack_s: float) -> bool:
    """Whether the contact leads as class M does."""
    return truth.make_s is not None and 13e-3 - slack_s < truth.rise_s[0.8] - truth.make_s < 19e-3 + slack_s


def _against(verdict: Verdict | None, may_be: bool, surely_is: bool) -> list[str]:
    """A decided word that the truth contradicts."""
    word = verdict.word if verdict else ""
    return [word] if (word == "within" and not may_be) or (word == "outside" and surely_is) else []


def main(n: int = 1000, first: int = 0) -> None:
    """How many wrong verdicts are flagged, and how many are not; the seeds of the latter."""
    counts: Counter[str] = Counter()
    missed: list[tuple[int, str, str]] = []
    for seed in range(first, first + n):
        scene, spoils, severity, rng = hostile(seed)
        samples, truths = simulate.recording(scene, seed)
        samples, truths = spoilt(samples, scene, truths, spoils, severity, rng)
        counts["fired"] += len(truths)
        try:
            result = measure(Waveform(samples.astype(np.float32), scene.card.rate_hz, scene.card.bits))
        except NotMeasurable:
            counts["recordings refused"] += 1
            continue
        judged = judge(result, Setup(), ())
        found = wrong(result, judged, truths)
        of_speed = {i for one in judged if one.flags for i in one.i_firings}
        counts["answers"] += len(result.firings)
        for i, firing in enumerate(result.firings):
            errors = [what for j, what in found if i == j]
            is_flagged = bool(firing.flags) or i in of_speed or any("wire" not in flag for flag in result.flags)
            counts["answers flagged"] += is_flagged
            counts["wrong"] += bool(errors)
            if errors and not is_flagged:
                missed.append((seed, ", ".join(errors), " + ".join(sorted(spoils))))
    print(f"{n} hostile recordings: " + ", ".join(f"{name} {number}" for name, number in counts.items()))
    print(f"A verdict wrong by more than {1e3 * MARGIN_S:g} ms without a flag: {len(missed)} firings")
    for one in missed[:40]:
        print(" ", *one)
    if not missed and n:
        print(f"None in {n} recordings: fewer than {3 / n:.2%} of such recordings, 95 % (rule of three)")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
