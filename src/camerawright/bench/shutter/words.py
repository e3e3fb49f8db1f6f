"""What the figures of a shutter result show, in words with their figures."""

from camerawright.bench.comparison_record import firing_time_text
from camerawright.bench.contract import Json, comparisons
from camerawright.bench.plot_words import overlaid_words, speed_card_words
from camerawright.handbook.exposure import name_of


def words(record: Json) -> dict[str, str]:
    """By the names of the figures."""
    firings = record["firings"]
    if not firings:
        return {}
    first = firings[0]
    out = {
        "waveform": (
            f"Firing 1 at {first['at_s']:.2f} s{_marked(record)}, as recorded and as undone: effective"
            f" {firing_time_text(first, 'effective')}, half-peak {firing_time_text(first, 'half_peak')}, total"
            f" {firing_time_text(first, 'total')} (95 %)."
        )
    }
    sets = record["speeds"] or [{"i_firings": range(len(firings)), "effective_s": firings[0]["effective_s"]}]
    out["overlaid"] = (
        "; ".join(overlaid_words(name_of(one["effective_s"]), [firings[i] for i in one["i_firings"]]) for one in sets)
        + "."
    )
    if compared := comparisons(record):
        out["speed card"] = speed_card_words(compared)
    return out


def _marked(record: Json) -> str:
    """The mark that the first firing is compared with, where a recording holds several."""
    first = next((one["compared"] for one in record["speeds"] if 0 in one["i_firings"]), None)
    return f", marked {first['marked']}" if first and len(record["speeds"]) > 1 else ""
