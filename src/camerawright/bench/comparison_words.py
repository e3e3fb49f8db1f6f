"""A comparison with a marked speed in words: what every test that compares shows alike."""

from collections.abc import Sequence

from camerawright.bench.comparison import Comparison
from camerawright.handbook.exposure import name_of
from camerawright.wording import numbers
from camerawright.wording.verdicts import bar, word


def comparison_lines(compared: Comparison) -> list[str]:
    """A set of firings against its marked speed, in lines for the terminal."""
    mean, expanded = compared.mean.value, compared.mean.expanded_u
    side = "slow, over-exposes" if mean > 0 else "fast, under-exposes"
    if abs(mean) <= expanded:
        side = "zero is within"
    out = [
        f"Marked {compared.marked} (target {name_of(compared.target_s)}, {numbers.short(1e3 * compared.target_s, 4)} ms"
        f"): mean {name_of(compared.mean_s)}, {numbers.stops(mean, expanded)} stops ({side})",
        f"  {bar(mean, expanded, compared.lower_ev, compared.upper_ev, compared.verdict)}",
    ]
    if compared.repeatability_stops is not None:
        out.append(repeatability_line(compared.repeatability_stops))
    if compared.verdict is None or compared.lower_ev is None or compared.upper_ev is None:
        return [*out, f"Profile {compared.profile} has no limits for this speed"]
    out.append(
        f"{compared.verdict.upper()} {numbers.signed(compared.lower_ev)} to {numbers.signed(compared.upper_ev)} stops"
        f" (profile {compared.profile}, {compared.source}); probability within"
        f" {numbers.fixed(compared.probability_within or 0.0, 3)}"
    )
    if compared.verdict == "undecided":
        out.append(
            f"{numbers.counted(compared.more_firings, 'more firing')} would decide"
            if compared.more_firings
            else "More firings alone would not decide: the speed lies too near a limit"
        )
    return out


def repeatability_line(spread_stops: float) -> str:
    """How much single firings scatter."""
    return f"Repeatability {numbers.fixed(spread_stops, 3)} stops (standard deviation of one firing)"


def repeatability_remark(spread_stops: float) -> str:
    """The same in a sentence."""
    return f"Repeatability: {numbers.never_less(spread_stops)} stop, the standard deviation of one firing."


def comparison_table(compared: Sequence[Comparison]) -> list[str]:
    """The whole dial in a few lines, where there are several speeds."""
    if len(compared) < 2:
        return []
    rows = [
        f"{one.marked:<8} {name_of(one.mean_s):>7} {numbers.stops(one.mean.value, one.mean.expanded_u):>17}"
        f"  {word(one.verdict)}"
        for one in compared
    ]
    return [f"{'Marked':<8} {'gives':>7} {'stops':>17}  verdict", *rows, ""]


def off_the_mark(compared: Sequence[Comparison]) -> str:
    """Marked against actual speeds, for who cannot see the picture."""
    return "Off the mark: " + "; ".join(_off(one) for one in compared) + "."


def _off(one: Comparison) -> str:
    text = f"{one.marked} {numbers.stops(one.mean.value, one.mean.expanded_u)} stops"
    if one.verdict is None or one.lower_ev is None or one.upper_ev is None:
        return f"{text}, no limits"
    return f"{text}, {one.verdict} ({numbers.signed(one.lower_ev)} to {numbers.signed(one.upper_ev)} are allowed)"
