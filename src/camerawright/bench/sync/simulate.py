"""A leaf shutter with a flash contact, and the stereo sound card that records both. Truth in, arrays out.

Nothing here is shared with the estimator: blades driven by a torque that uncover a round hole as a regular polygon
(closed form), a contact that bounces, a battery and a divider, crosstalk, a skew between the channels, noise, and the
simulated sound card.
"""

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.simulated_card import coupled, detected, quantised, sampled

Floats = NDArray[np.float64]

_OVER = 4  # fine samples for each recorded one


@dataclass(frozen=True)
class Leaf:
    """Blades: `open_s` and `close_s` from rest to the stop under a constant torque; `n` edges about a hole of radius 1.

    The hole begins to show at `overlap` of the ring's travel and is free at `free` of it.
    """

    n: int = 5
    open_s: float = 2.0e-3
    close_s: float = 1.8e-3
    overlap: float = 0.12
    free: float = 0.85


@dataclass(frozen=True)
class Contact:
    """When the contact makes and breaks after the release of the blades (negative: before) [s], and how cleanly.

    `gaps_s` holds (start, length) after the make, `late_s` (start, length) of closures after the break.
    """

    make_s: float = 2.0e-3
    break_s: float = 20e-3
    gaps_s: tuple[tuple[float, float], ...] = ()
    late_s: tuple[tuple[float, float], ...] = ()
    ohm: float = 0.2
    closes: bool = True


@dataclass(frozen=True)
class Card:
    """A stereo AC-coupled input; `skew_s` is how much later the contact's channel is sampled than it says.

    Its clock runs fast by the part `fast`; its anti-alias filter is down to a half at `cut_off` of half the rate.
    """

    rate_hz: float = 48_000.0
    light_corners_hz: tuple[float, ...] = (8.0, 0.8)
    contact_corners_hz: tuple[float, ...] = (7.0, 0.7)
    bits: int = 16
    light_fs: float = 0.3
    contact_fs: float = 0.4
    skew_s: float = 0.0
    fast: float = 0.0
    cut_off: float = 0.9
    crosstalk: float = 1e-3  # of each channel's full height, in the other
    noise_light: float = 2e-3  # of its own height, rms over the full band
    noise_contact: float = 2e-3
    is_light_second: bool = False
    is_light_inverted: bool = False
    is_contact_inverted: bool = False


@dataclass(frozen=True)
class Scene:
    """Everything but the seed. `hold_s`: from the release of the opening to that of the closing, one entry a firing.

    `bridged_s` is how long a wire bridges the contact before the first firing (0: it doesn't).
    """

    hold_s: tuple[float, ...]
    leaf: Leaf = field(default_factory=Leaf)
    contact: Contact = field(default_factory=Contact)
    card: Card = field(default_factory=Card)
    series_ohm: float = 220.0
    bridged_s: float = 0.0
    sensor_lag_s: float = 10e-6
    sensor_bend: float = 0.0
    lead_s: float = 0.7
    gap_s: float = 0.9


@dataclass(frozen=True)
class Truth:
    """What happened at one firing, in true seconds from the recording's start; None where the contact stayed open."""

    rise_s: dict[float, float]  # when the light passed this part of full
    fall_s: dict[float, float]
    make_s: float | None
    break_s: float | None
    n_gaps: int
    longest_gap_s: float
    peak: float


@dataclass(frozen=True)
class Unseen:
    """Spread of what no recording shows, normal: skew and lag [s], the clock's rate, and bend."""

    u_skew_s: float
    u_clock: float
    lag_s: float
    u_lag_s: float
    u_bend: float


def drawn(make_s: float, hold_s: float, snr_db: float, unseen: Unseen, rng: np.random.Generator, n: int = 3) -> Scene:
    """A shutter, a contact and a card drawn at random, firing `n` times."""
    leaf = Leaf(
        n=int(rng.integers(3, 8)), open_s=rng.uniform(1.4e-3, 2.6e-3), close_s=rng.uniform(1.2e-3, 2.2e-3),
        overlap=rng.uniform(0.08, 0.2), free=rng.uniform(0.75, 0.95),
    )  # fmt: skip
    gaps, at_s = [], rng.uniform(50e-6, 200e-6)
    for _ in range(int(rng.integers(0, 4))):
        gaps.append((at_s, rng.uniform(80e-6, 250e-6)))
        at_s += gaps[-1][1] + rng.uniform(100e-6, 300e-6)
    contact = Contact(make_s, make_s + rng.uniform(3e-3, 25e-3), tuple(gaps), ohm=rng.uniform(0, 2))
    card = Card(
        light_corners_hz=(rng.uniform(4, 16), rng.uniform(0.3, 2)),
        contact_corners_hz=(rng.uniform(4, 16), rng.uniform(0.3, 2)),
        light_fs=rng.uniform(0.1, 0.6),
        contact_fs=rng.uniform(0.1, 0.6),
        skew_s=unseen.u_skew_s * rng.standard_normal(),
        fast=unseen.u_clock * rng.standard_normal(),
        cut_off=rng.uniform(0.85, 1.0),
        crosstalk=10 ** (-rng.uniform(45, 70) / 20),
        noise_light=10 ** (-snr_db / 20),
        noise_contact=10 ** (-snr_db / 20),
        is_light_second=bool(rng.integers(2)),
        is_light_inverted=bool(rng.integers(2)),
        is_contact_inverted=bool(rng.integers(2)),
    )
    lag_s = max(1e-7, unseen.lag_s + unseen.u_lag_s * rng.standard_normal())
    bend = unseen.u_bend * rng.standard_normal()
    holds = tuple(hold_s * rng.uniform(0.97, 1.03) for _ in range(n))
    return Scene(holds, leaf, contact, card, sensor_lag_s=lag_s, sensor_bend=bend, lead_s=0.4, gap_s=0.5)


def recording(scene: Scene, seed: int) -> tuple[Floats, tuple[Truth, ...]]:
    """Samples of shape (n, 2), full scale 1, and the truth of each firing in order."""
    rng = np.random.default_rng(seed)
    card = scene.card
    bridge_s = scene.bridged_s + scene.gap_s if scene.bridged_s else 0.0
    n = math.ceil(
        (scene.lead_s + bridge_s + sum(scene.hold_s) + len(scene.hold_s) * (scene.gap_s + 0.02)) * card.rate_hz
    )
    fine_hz = card.rate_hz * (1 + card.fast) * _OVER
    fine_s = np.arange(n * _OVER) / fine_hz
    light = np.zeros(n * _OVER)
    closed: list[tuple[float, float, float]] = []  # from, to, height
    truths = []
    at_s = scene.lead_s
    if scene.bridged_s:
        closed.append((at_s, at_s + scene.bridged_s, 1.0))
        at_s += bridge_s
    for hold_s in scene.hold_s:
        release_s = at_s + rng.uniform(0, 1 / card.rate_hz)
        around = slice(*np.searchsorted(fine_s, [release_s - 1e-3, release_s + hold_s + 3 * scene.leaf.close_s]))
        light[around] = _area(scene.leaf, fine_s[around] - release_s, hold_s)
        truths.append(_truth(scene, release_s, hold_s))
        closed += _closures(scene, release_s)
        at_s += hold_s + scene.gap_s * rng.uniform(0.9, 1.1)
    seen = light * (1 + scene.sensor_bend * (1 - light))
    seen = detected(seen, scene.sensor_lag_s, scene.sensor_lag_s, fine_hz)
    first = coupled(sampled(seen, _OVER, card.cut_off), card.light_corners_hz, card.rate_hz)
    switched = _switched(closed, fine_s + card.skew_s)
    second = coupled(sampled(switched, _OVER, card.cut_off), card.contact_corners_hz, card.rate_hz)
    one = first + card.crosstalk * second + card.noise_light * rng.standard_normal(n)
    other = second + card.crosstalk * first + card.noise_contact * rng.standard_normal(n)
    one = quantised(one * card.light_fs * (-1 if card.is_light_inverted else 1), card.bits)
    other = quantised(other * card.contact_fs * (-1 if card.is_contact_inverted else 1), card.bits)
    return np.column_stack([other, one] if card.is_light_second else [one, other]), tuple(truths)


def example(seed: int) -> Scene:
    """Six firings of a tired 1/60, its X contact a little early and bouncing, a wire bridging it first."""
    rng = np.random.default_rng(seed)
    contact = Contact(1.55e-3 + rng.normal(0, 20e-6), 16e-3, ((120e-6, 150e-6), (420e-6, 90e-6)), ohm=0.6)
    card = replace(Card(), noise_light=3e-3, noise_contact=1e-3)
    return Scene(tuple(17e-3 * 2 ** rng.normal(0, 0.02) for _ in range(6)), contact=contact, card=card, bridged_s=0.4)


def _area(leaf: Leaf, t: Floats, hold_s: float) -> Floats:
    """Free part of the hole, `t` from the release of the opening: the ring runs by half the acceleration times t²."""
    opening = np.clip(t / leaf.open_s, 0, 1) ** 2
    closing = 1 - np.clip((t - hold_s) / leaf.close_s, 0, 1) ** 2
    inner = np.clip((np.minimum(opening, closing) - leaf.overlap) / (leaf.free - leaf.overlap), 0, 1)
    corner = math.cos(math.pi / leaf.n)  # an inner radius up to here: the whole polygon lies in the hole
    segment = np.arccos(inner) - inner * np.sqrt(1 - inner**2)
    inside = leaf.n * inner**2 * math.tan(math.pi / leaf.n)
    return np.asarray(np.where(inner < corner, inside, math.pi - leaf.n * segment) / math.pi)


def _truth(scene: Scene, release_s: float, hold_s: float) -> Truth:
    """Instants of one firing from its noiseless light."""
    leaf, contact = scene.leaf, scene.contact
    step_s = 0.2e-6
    up = np.arange(0, min(hold_s, leaf.open_s) + leaf.close_s, step_s)
    down = np.arange(min(hold_s, leaf.open_s) * (hold_s < leaf.open_s) + hold_s * (hold_s >= leaf.open_s),
                     hold_s + 2 * leaf.close_s, step_s)  # fmt: skip
    rising, falling = _area(leaf, up, hold_s), _area(leaf, down, hold_s)
    peak = float(max(rising.max(), falling.max()))
    parts = (0.1, 0.5, 0.8, 0.95)
    return Truth(
        rise_s={part: release_s + float(up[np.argmax(rising >= part * peak)]) for part in parts},
        fall_s={
            part: release_s + float(down[len(down) - 1 - np.argmax(falling[::-1] >= part * peak)]) for part in parts
        },
        make_s=release_s + contact.make_s if contact.closes else None,
        break_s=release_s + contact.break_s if contact.closes else None,
        n_gaps=len(contact.gaps_s),
        longest_gap_s=max((length for _, length in contact.gaps_s), default=0.0),
        peak=peak,
    )


def _closures(scene: Scene, release_s: float) -> list[tuple[float, float, float]]:
    """When the contact conducts, and how much of the battery the divider leaves."""
    contact = scene.contact
    if not contact.closes:
        return []
    height = scene.series_ohm / (scene.series_ohm + contact.ohm)
    make_s, out = release_s + contact.make_s, []
    start_s = make_s
    for gap_s, length_s in contact.gaps_s:
        out.append((start_s, make_s + gap_s, height))
        start_s = make_s + gap_s + length_s
    out.append((start_s, release_s + contact.break_s, height))
    out += [(release_s + contact.break_s + a, release_s + contact.break_s + a + b, height) for a, b in contact.late_s]
    return out


def _switched(closed: list[tuple[float, float, float]], fine_s: Floats) -> Floats:
    """The divider's voltage, each fine sample the mean over its own length."""
    dt_s = float(fine_s[1] - fine_s[0])
    out = np.zeros(len(fine_s))
    for start_s, stop_s, height in closed:
        done = np.clip((fine_s + dt_s / 2 - start_s) / dt_s, 0, None) - np.clip(
            (fine_s + dt_s / 2 - stop_s) / dt_s, 0, None
        )
        out += height * np.diff(done, prepend=0.0)
    return out
