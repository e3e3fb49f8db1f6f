"""Leaf shutter by light: the effective time against the Cramér-Rao bound of the same signal, over noise and speed."""

import math
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.shutter import simulate
from camerawright.bench.shutter.measure import measure
from camerawright.bench.shutter.simulate import Blades, Scene, Sensor, SoundCard
from camerawright.handbook.light_sensors import Sensor as SensorClass
from camerawright.recordings.sound import Waveform
from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

SPEEDS = (2, 8, 30, 60, 125, 250, 500)
SNRS_DB = (60, 50, 40, 30, 26)
PERFECT = SensorClass("perfect", 0.0, 0.0, 0.0, "none: white noise is all there is")
CORNERS_HZ = (8.0, 0.8)
PICTURE = Path("docs/pictures/shutter-bound.svg")


class Model:
    """A recorded firing as a function of what is not known: the same light, stretched and moved, through the card."""

    def __init__(self, speed: int) -> None:
        self.blades = Blades(restitution=0.0)
        self.hold_s = simulate.hold_for(1 / speed, self.blades)
        times_s, light = simulate.light_of(self.blades, self.hold_s)
        self._fine_s = np.arange(-5e-3, times_s[-1] + 5e-3, 2e-6)
        self._fine = np.interp(self._fine_s, times_s, light / light.max())
        self._middle_s = times_s[-1] / 2
        self.effective_s = float(np.trapezoid(self._fine, self._fine_s))
        self.rate_hz = 48_000.0
        self._t = np.arange(round((times_s[-1] + 0.9) * self.rate_hz)) / self.rate_hz - 0.3

    def light(self, theta: Floats) -> Floats:
        """Light at the samples; theta is (level, move and stretch of opening, move and stretch of closing)."""
        level, up_s, up_stretch, down_s, down_stretch = theta[:5]
        t = self._t
        half_up, half_down = self._half()
        opening = half_up + (t - up_s - half_up) / (1 + up_stretch)
        closing = half_down + (t - down_s - half_down) / (1 + down_stretch)
        middle = (half_up + half_down) / 2
        return np.asarray(level * np.interp(np.where(t < middle, opening, closing), self._fine_s, self._fine, 0, 0))

    def _half(self) -> tuple[float, float]:
        above = self._fine_s[self._fine > 0.5]
        return float(above[0]), float(above[-1])

    def recorded(self, theta: Floats) -> Floats:
        """Samples: theta goes on with two corners in hertz and the converter's zero."""
        from scipy import signal  # noqa: PLC0415

        y = self.light(theta)
        for corner_hz in theta[5:7]:
            w = math.tan(math.pi * corner_hz / self.rate_hz)
            y = signal.lfilter([1 / (1 + w), -1 / (1 + w)], [1, (w - 1) / (1 + w)], y)
        return np.asarray(y + theta[7])

    def effective(self, theta: Floats) -> float:
        """Light integral over the level. [s]"""
        return float(self.light(theta).sum() / self.rate_hz / theta[0])

    def bound_s(self, sigma: float) -> float:
        """Least standard deviation of the effective time of any unbiased estimator in white noise."""
        theta = np.array([1.0, 0, 0, 0, 0, *CORNERS_HZ, 0])
        steps = np.array([1e-3, 2e-5, 1e-2, 2e-5, 1e-2, 1e-3, 1e-3, 1e-3])
        rows, slopes = [], []
        for i, step in enumerate(steps):
            up, down = theta.copy(), theta.copy()
            up[i], down[i] = up[i] + step, down[i] - step
            rows.append((self.recorded(up) - self.recorded(down)) / (2 * step))
            slopes.append((self.effective(up) - self.effective(down)) / (2 * step))
        scale = np.array([np.linalg.norm(row) for row in rows])
        design, slope = np.stack(rows) / scale[:, None], np.array(slopes) / scale
        return sigma * math.sqrt(float(slope @ np.linalg.pinv(design @ design.T) @ slope))


def rms_s(model: Model, snr_db: float, n: int) -> tuple[float, float]:
    """Rms error of the effective time over single-firing recordings, and the mean stated u."""
    errors, us = [], []
    for seed in range(n):
        card = SoundCard(corners_hz=CORNERS_HZ, bits=24, plateau_fs=0.4)
        sensor = Sensor(1e-7, 1e-7)
        scene = Scene((model.hold_s,), blades=model.blades, card=card, sensor=sensor, gap_s=0.7, lead_s=0.35)
        samples, truths = simulate.recording(
            simulate.with_noise_db(scene, snr_db), seed + 1000 * round(1e4 * model.effective_s) + 7 * round(snr_db)
        )
        try:
            (firing,) = measure(Waveform(samples.astype(np.float32), 48_000.0, 24), sensor=PERFECT).firings
        except (NotMeasurable, ValueError):
            continue
        true_s = truths[0].effective_s if firing.has_plateau else truths[0].effective_own_peak_s
        errors.append(firing.effective.value - true_s)
        us.append(firing.effective.u)
    return (float(np.sqrt(np.mean(np.square(errors)))), float(np.mean(us))) if errors else (math.nan, math.nan)


def main(n: int = 300) -> None:
    """A table of rms over bound, and its picture."""
    print("| speed | " + " | ".join(f"{snr} dB" for snr in SNRS_DB) + " |\n|---" * 1 + "|---" * len(SNRS_DB) + "|")
    found: dict[int, list[tuple[float, float]]] = {}
    for speed in SPEEDS:
        model = Model(speed)
        row = []
        for snr_db in SNRS_DB:
            bound_s = model.bound_s(10 ** (-snr_db / 20))
            row.append((bound_s, rms_s(model, snr_db, n)[0]))
        found[speed] = row
        cells = [f"{1e6 * rms:.2f} / {1e6 * bound:.2f} µs = {rms / bound:.2f}" for bound, rms in row]
        print(f"| 1/{speed} | " + " | ".join(cells) + " |", flush=True)
    picture(found)


def picture(found: dict[int, list[tuple[float, float]]]) -> None:
    """Rms and bound over speed, a line for each noise."""
    from matplotlib.figure import Figure  # noqa: PLC0415

    figure = Figure(figsize=(7, 4.5), layout="constrained")
    axes = figure.subplots()
    speeds = list(found)
    for k, snr_db in enumerate(SNRS_DB):
        bound, rms = np.array([found[speed][k] for speed in speeds]).T
        (line,) = axes.loglog(speeds, 1e6 * bound, ls="--", lw=1)
        axes.loglog(speeds, 1e6 * rms, "o-", color=line.get_color(), ms=4, label=f"{snr_db} dB")
    axes.set_xticks(speeds, [f"1/{speed}" for speed in speeds])
    axes.set_xlabel("speed [s]")
    axes.set_ylabel("effective time, rms error [µs]; bound dashed")
    axes.legend(fontsize=8)
    PICTURE.parent.mkdir(exist_ok=True)
    figure.savefig(PICTURE, metadata={"Date": None})


if __name__ == "__main__":
    main()
