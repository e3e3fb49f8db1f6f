"""The check of a set-up in words: lines for the terminal, rows for a page. ± is the 95 % interval, u doubled."""

from camerawright.bench.setup_check.record import Estimate, SetupCheck
from camerawright.wording import numbers


def lines(check: SetupCheck) -> list[str]:
    """The set-up in lines."""
    corners = " and ".join(_rough(each, 1, numbers.short(each.value, 3)) for each in check.corners_hz)
    rise, fall = (_rough(each, 1e6, numbers.fixed(1e6 * each.value, 0)) for each in (check.rise_s, check.fall_s))
    lag, clock = (_rough(each, 1e6, numbers.signed(1e6 * each.value, 1)) for each in (check.fall_lag_s, check.clock))
    return [
        check.verdict,
        f"rises in {rise} µs, falls in {fall} µs (10 % to 90 %, the whole chain)",
        f"pulses are recorded longer by {lag} µs",
        f"AC coupled at {corners} Hz",
        f"level {numbers.percent(check.level_fs, 1)} of full scale, noise {numbers.fixed(check.noise_db, 0)} dB below"
        " it",
        f"like pulses differ by {numbers.percent(check.gain_change.value, 2)}",
        f"the input's clock is off the output's by {clock} ppm",
        f"ISO 516 asks for a chain flat to 100 / t: the rise of this one allows"
        f" {numbers.short(1e3 * check.iso_516_s, 2)} ms and more (we do not claim conformity)",
        *(f"! {flag}" for flag in check.flags),
    ]


def rows(check: SetupCheck) -> tuple[tuple[str, str], ...]:
    """The set-up in rows: what, and the figure."""
    corners = " and ".join(_spread(each, 1, "Hz") for each in check.corners_hz)
    return (
        ("Rise, 10 % to 90 %, whole chain", _spread(check.rise_s, 1e6, "µs")),
        ("Fall", _spread(check.fall_s, 1e6, "µs")),
        ("Pulses are recorded longer by", _spread(check.fall_lag_s, 1e6, "µs")),
        ("AC coupled at", corners),
        ("Polarity", "light goes down" if check.is_inverted else "light goes up"),
        ("Level", f"{numbers.percent(check.level_fs, 1)} of full scale"),
        ("Noise", f"{numbers.fixed(check.noise_db, 0)} dB below the level"),
        ("Clipped", numbers.counted(check.n_clipped, "sample")),
        ("Like pulses differ by", _spread(check.gain_change, 100, "%")),
        ("Input's clock over the output's", _spread(check.clock, 1e6, "ppm")),
        (
            "Fast enough by ISO 516 from a total time of",
            f"{numbers.short(1e3 * check.iso_516_s, 2)} ms, as far as the rise tells",
        ),
    )


def _rough(estimate: Estimate, scale: float, value: str) -> str:
    """A value with its interval to one digit."""
    return f"{value} ± {numbers.short(2 * scale * estimate.u, 1)}"


def _spread(estimate: Estimate, scale: float, unit: str) -> str:
    """A value with its interval, rounded by it."""
    return f"{numbers.with_interval(scale * estimate.value, 2 * scale * estimate.u)} {unit}"
