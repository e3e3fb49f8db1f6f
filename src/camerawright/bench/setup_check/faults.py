"""What is wrong with a set-up, and what is worth knowing of it."""

from typing import Final

from camerawright.bench.setup_check.record import SetupCheck
from camerawright.wording import numbers

_LEAST_LEVEL, _MOST_LEVEL = 0.03, 0.9
_GOOD_DB, _LEAST_DB = 40.0, 23.0  # what the shutter test asks at the least, and ten times less noise than is flagged
_SLOWEST_S: Final = 120e-6
_SAME_LEVEL: Final = 0.02
_SAGS: Final = 0.1
_CLOCK: Final = 20e-6
_WRONG_CLOCK: Final = 200e-6  # ten times what crystals differ by. Common practice


def wrong(check: SetupCheck) -> tuple[str, ...]:
    """What must be put right before a reading, and how."""
    if check.n_clipped:  # nothing else that is seen means anything
        return (
            f"The input is clipped at {numbers.counted(check.n_clipped, 'sample')}: lower the gain or move the LED"
            " away.",
        )
    gain, clock, rise_s = check.gain_change, check.clock, check.rise_s
    found = []
    if check.level_fs < _LEAST_LEVEL:
        found.append(
            f"The pulses reach {numbers.percent(check.level_fs, 1)} of full scale: raise the gain or the light."
        )
    elif check.level_fs > _MOST_LEVEL:
        found.append(f"The pulses reach {numbers.percent(check.level_fs)} of full scale: lower the gain a little.")
    if check.noise_db < _LEAST_DB:
        found.append(
            f"The noise is only {numbers.fixed(check.noise_db, 0)} dB down: raise the light, shade the sensor, move"
            " cables."
        )
    # an output that does not hold a level leaves like pulses unlike, by much less than they sag
    if gain.value > max(_SAME_LEVEL, 3 * gain.u, 0.5 * abs(check.sag)):
        found.append(
            f"Like pulses differ by {numbers.percent(gain.value)}: switch off automatic gain and every enhancement of"
            " the input."
        )
    if abs(clock.value) > _WRONG_CLOCK + 3 * clock.u:
        found.append(
            f"The input's clock is off the output's by {numbers.signed(1e6 * clock.value, 0)} ppm: the rate of one of"
            " them is converted on the way, or samples are lost."
        )
    if rise_s.value - 2 * rise_s.u > _SLOWEST_S:
        found.append(
            f"The chain rises in {numbers.fixed(1e6 * rise_s.value, 0)} µs: use a photodiode, or a smaller load"
            " resistor."
        )
    return tuple(found)


def flags(check: SetupCheck) -> tuple[str, ...]:
    """What is worth knowing."""
    clock = check.clock
    found = [
        f"The pulse of {numbers.fixed(1e3 * missing_s, 0)} ms is not seen whole: the output is AC coupled too, and does"
        " not keep the LED alight."
        for missing_s in check.missing_s
    ]
    if _LEAST_DB <= check.noise_db < _GOOD_DB:
        found.append(f"The noise is {numbers.fixed(check.noise_db, 0)} dB down; more light makes better readings.")
    if _CLOCK + 2 * clock.u < abs(clock.value) <= _WRONG_CLOCK + 3 * clock.u:
        found.append(
            f"Input and output have clocks of their own: they differ by {numbers.signed(1e6 * clock.value, 0)} ppm."
        )
    if abs(check.sag) > _SAGS:
        found.append(
            f"The light changes by {numbers.signed(-100 * check.sag, 0)} % in"
            f" {numbers.fixed(1e3 * check.sag_over_s, 0)} ms: the output is AC coupled too. That comes from the lamp"
            " and not from the input."
        )
    return tuple(found)
