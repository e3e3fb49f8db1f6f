"""What the check of a set-up found: the LED on the headphone output, as the input recorded it."""

from dataclasses import dataclass

from camerawright.wording import numbers


@dataclass(frozen=True)
class Estimate:
    """A value and its standard uncertainty (k = 1), in the unit that stands in its name."""

    value: float
    u: float


@dataclass(frozen=True, kw_only=True)
class SetupCheck:
    """The set-up, as an LED on the headphone output showed it.

    Attributes
    ----------
    rise_s, fall_s
        10 % to 90 % of the whole chain (output, LED, sensor, input): the sensor is no slower. [s]
    fall_lag_s
        By how much pulses are recorded longer than played, at half their height. [s]
    corners_hz
        Of the input's AC coupling, higher first.
    is_inverted
        Whether light is recorded downwards.
    level_fs
        Height of a pulse. [full scale = 1]
    noise_db
        How far the noise is below it. [dB]
    n_clipped
        Samples at an end stop.
    gain_change
        How much like pulses differ, as a part: automatic gain, if not zero.
    clock
        Rate of the input's clock over the output's, less 1.
    sag, sag_over_s
        How much the light fell during the longest pulse, as a part, and its length: the output's own coupling.
    iso_516_s
        The shortest total time for which the chain is fast enough by ISO 516 (flat to 100 over that time), as far as
        its rise tells; no conformity is claimed. [s]
    missing_s
        Widths of the pulses that are not seen whole.
    wrong
        What must be put right before a reading, and how.
    flags
        What is worth knowing.
    """

    rise_s: Estimate
    fall_s: Estimate
    fall_lag_s: Estimate
    corners_hz: tuple[Estimate, ...]
    is_inverted: bool
    level_fs: float
    noise_db: float
    n_clipped: int
    gain_change: Estimate
    clock: Estimate
    sag: float
    sag_over_s: float
    iso_516_s: float
    missing_s: tuple[float, ...]
    wrong: tuple[str, ...] = ()
    flags: tuple[str, ...] = ()

    @property
    def is_fit(self) -> bool:
        """Whether readings may be taken with it."""
        return not self.wrong

    @property
    def verdict(self) -> str:
        """One sentence."""
        if self.wrong:
            return f"Not fit yet: {' '.join(self.wrong)}"
        corners = " and ".join(numbers.short(corner.value, 2) for corner in self.corners_hz)
        return (
            f"Fit: the chain rises in {numbers.fixed(1e6 * self.rise_s.value, 0)} µs, the noise is"
            f" {numbers.fixed(self.noise_db, 0)} dB down, the input is AC coupled at {corners} Hz, and light is"
            f" recorded {'downwards' if self.is_inverted else 'upwards'}."
        )
