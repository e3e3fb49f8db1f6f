"""Leaf shutter by slow-motion video: accuracy and honesty over speed, frame rate and exposure; reading speed."""

import math
import tempfile
import time
from pathlib import Path

import av
import numpy as np
from tests.bench.footage_scenes import Trial, trials
from tests.recordings.films import write_film

from camerawright.bench.comparison import compare
from camerawright.bench.footage import simulate
from camerawright.bench.footage.lines import U_LED, line_time
from camerawright.bench.footage.measure import SHARED, measure
from camerawright.bench.footage.times import times_of
from camerawright.handbook.tolerances import find_profile
from camerawright.recordings.clips import clip_of_luma, read_clip
from camerawright.trouble import NotMeasurable

RATES_FPS = (120, 240, 960)
SPEEDS = (8, 30, 60, 125, 250)
N_CLIPS, N_FIRINGS = 200, 6


def accuracy(is_exposure_known: bool) -> None:
    """A table of bias, rms of the errors, rms of u and coverage of single firings."""
    print(
        f"{N_CLIPS} independent clips a cell; ± of *held* is the scatter of the clips over the root of their number.\n"
    )
    print("| frames a second | speed | clips (refused) | bias, rms, u [%] | held |")
    print("|---|---|---|---|---|")
    pooled: list[Trial] = []
    for fps in RATES_FPS:
        for speed in SPEEDS:
            cell, each, refused = [], [], 0
            for seed in range(N_CLIPS):
                found, result, _ = trials(fps, speed, seed, n=N_FIRINGS, is_exposure_known=is_exposure_known)
                refused += result is None
                cell += found
                if found:
                    each.append(float(np.mean([one.is_held for one in found])))
            if not cell:
                print(f"| {fps} | 1/{speed} | {N_CLIPS} ({refused}) | | |")
                continue
            pooled += cell
            errors = 100 * np.array([one.error for one in cell])
            u = 100 * math.sqrt(float(np.mean([one.u**2 for one in cell])))
            held = 100 * float(np.mean([one.is_held for one in cell]))
            u_held = 100 * float(np.std(each, ddof=1)) / math.sqrt(len(each)) if len(each) > 1 else 100.0
            numbers = f"{errors.mean():+.2f}, {np.sqrt(np.mean(errors**2)):.2f}, {u:.2f}"
            print(
                f"| {fps} | 1/{speed} | {N_CLIPS} ({refused}) | {numbers} | {held:.1f} ± {u_held:.1f} % |",
                flush=True,
            )
    print(f"\nPooled over {len(pooled)} firings, held: {100 * np.mean([one.is_held for one in pooled]):.1f} %\n")


def ten_at_a_60th(n_clips: int = 60) -> None:
    """The mean of ten firings at 1/60, 240 frames a second."""
    profile = find_profile("user")
    errors, held = [], []
    for seed in range(1000, 1000 + n_clips):
        _, result, mean_s = trials(240, 60, seed, n=10)
        assert result is not None
        found = compare([one.effective for one in result.firings], "1/60", profile, shared=SHARED)
        error = found.mean.value - math.log2(mean_s * 64)
        errors.append(2**error - 1)
        held.append(abs(error) < found.mean.expanded_u)
    size = 100 * np.abs(errors)
    print(
        f"Mean of ten firings at about 1/60, 240 frames a second, {n_clips} clips: bias"
        f" {100 * np.mean(errors):+.2f} %, rms {np.sqrt(np.mean(size**2)):.2f} %, worst {size.max():.1f} %,"
        f" within 3 %: {100 * np.mean(size < 3):.0f} %,"
        f" interval held {100 * np.mean(held):.0f} %\n"
    )


def lines(n_clips: int = 160) -> None:
    """The line time from a lamp that blinks; its rate is off from what is told as the budget states."""
    errors, held = [], []
    for seed in range(n_clips):
        rng = np.random.default_rng(seed)
        led_hz, line_s = rng.uniform(800, 1500), rng.uniform(9e-6, 17e-6)
        camera = simulate.Camera(duty=rng.uniform(0.03, 0.12))
        filmed = simulate.film_led(led_hz, line_s, seed, camera=camera, on=rng.uniform(0.3, 0.6))
        clip = clip_of_luma(filmed.luma, filmed.at_s)
        try:
            found = line_time(clip, times_of(clip, None), led_hz * (1 + U_LED * rng.standard_normal())).line
        except NotMeasurable:
            continue
        errors.append(found.value / line_s - 1)
        held.append(abs(found.value - line_s) < found.expanded_u)
    rms = 100 * float(np.sqrt(np.mean(np.square(errors))))
    print(
        f"Line time, {n_clips} clips of 40 frames ({n_clips - len(held)} refused): rms {rms:.4f} %,"
        f" interval held {100 * np.mean(held):.0f} %\n"
    )


def throughput() -> None:
    """Decoding alone against reading into light, and measuring, in one run."""
    camera = simulate.Camera(height_px=360, width_px=640)
    holds = tuple(simulate.hold_for(1 / 60, simulate.Blades()) for _ in range(4))
    filmed = simulate.film(simulate.Scene(holds, camera=camera, static_s=0.3), 1)
    with tempfile.TemporaryDirectory() as folder:
        path = write_film(Path(folder) / "clip.mp4", filmed.luma, filmed.at_s, crf=23)
        start = time.perf_counter()
        with av.open(str(path)) as container:
            container.streams.video[0].thread_type = "AUTO"
            n = sum(1 for _ in container.decode(video=0))
        decode_s = time.perf_counter() - start
        start = time.perf_counter()
        clip = read_clip(path)
        read_s = time.perf_counter() - start
    start = time.perf_counter()
    measure(clip)
    measure_s = time.perf_counter() - start
    print(
        f"{n} frames of 640 x 360: decoding alone {1e3 * decode_s / n:.2f} ms a frame, decoding into light"
        f" {1e3 * read_s / n:.2f} ms, measuring {1e3 * measure_s / n:.2f} ms"
    )


def main() -> None:
    """Print it all as it stands in docs/accuracy/footage.md."""
    print("### Exposure of a frame not told\n")
    accuracy(False)
    print("### Exposure told\n")
    accuracy(True)
    ten_at_a_60th()
    lines()
    throughput()


if __name__ == "__main__":
    main()
