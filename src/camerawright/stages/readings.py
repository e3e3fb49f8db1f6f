"""A job's readings, as found beside as left: what pages and the certificate show of them."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.contract import BenchTest, Json
from camerawright.journal.entries import Measured, Phase
from camerawright.sheets import content
from camerawright.stages.bench import Bench
from camerawright.stages.testing import profile_named
from camerawright.store.workshop import Workshop

DECISION_RULE = (
    "within, or outside, where the true value is so with at least 95 % probability; otherwise undecided"
    " (JCGM 106:2012, 8.3)"
)


@dataclass(frozen=True, kw_only=True)
class Row:
    """One marked speed: the newest reading of each phase."""

    marked: str
    as_found: Measured | None
    as_left: Measured | None


def rows(measured: Iterable[Measured], test: BenchTest) -> tuple[Row, ...]:
    """The readings of a test that were compared with a mark, slowest first; of several the newest counts."""
    newest: dict[tuple[str, Phase], Measured] = {}
    for entry in measured:
        if entry.test == test.name and entry.result.get("compared"):
            newest[compared(entry)["marked"], entry.phase] = entry
    targets = {mark: compared(entry)["target_s"] for (mark, _), entry in newest.items()}
    return tuple(
        Row(marked=mark, as_found=newest.get((mark, "as found")), as_left=newest.get((mark, "as left")))
        for mark in sorted(targets, key=lambda mark: -targets[mark])
    )


def compared(entry: Measured) -> Json:
    """What a reading says against its mark."""
    part: Any = entry.result["compared"]
    return dict(part)


def reading_shown(entry: Measured) -> content.Reading:
    """A reading as text, rounded by its own uncertainty."""
    against = compared(entry)
    expanded = against["U95_mean_stops"]
    return content.Reading(
        value=f"{time_text(against['mean_s'])} ({milliseconds(against['mean_s'], _relative(expanded))})",
        error=stops_text(against["mean_stops"]),
        expanded_u=expanded_text(expanded),
        n=len(against["firings"]),
        verdict=against["verdict"],
    )


def _relative(expanded_stops: float) -> float:
    """An interval in stops as a part of the value."""
    return float(2**expanded_stops - 1)


def stops_text(stops: float) -> str:
    """A deviation with its sign, to a hundredth: no owner sees less. [stops]"""
    return f"{stops:+.2f}".replace("-", "−")


def expanded_text(expanded_stops: float) -> str:
    """An expanded uncertainty, never rounded below what it is (JCGM 100:2008, 7.2.6). [stops]"""
    return f"{math.ceil(round(expanded_stops * 100, 6)) / 100:.2f}"


def milliseconds(time_s: float, relative_u: float) -> str:
    """A time in ms with as many digits as its uncertainty leaves it, four at the most."""
    digits = 4 if relative_u <= 0 else min(4, max(2, 2 - math.floor(math.log10(relative_u))))
    whole = math.floor(math.log10(time_s * 1e3)) + 1
    return f"{time_s * 1e3:.{max(0, digits - whole)}f} ms"


def time_text(time_s: float) -> str:
    """A time as it stands on a dial: 1/51 s, or 1.04 s."""
    return f"1/{1 / time_s:.0f} s" if time_s < 0.4 else f"{time_s:.2f} s"


def card_png(test: BenchTest, table: Iterable[Row], *, dpi: int = 150) -> bytes | None:
    """All readings of a test in one picture, as PNG, or nothing to draw."""
    found = [dict(row.as_found.result) for row in table if row.as_found]
    left = [dict(row.as_left.result) for row in table if row.as_left]
    figure = test.card(found, left)
    return None if figure is None else png(figure, dpi=dpi)


def png(figure: Any, *, dpi: int = 110) -> bytes:
    """A figure as the bytes of a PNG file."""
    out = BytesIO()
    figure.savefig(out, format="png", dpi=dpi)
    return out.getvalue()


def readings_shown(
    workshop: Workshop, here: Bench
) -> tuple[tuple[content.Readings, ...], dict[str, bytes], tuple[str, ...]]:
    """Every test's readings for the certificate, the pictures they name, and the remarks."""
    shown = []
    images: dict[str, bytes] = {}
    for test in CATALOGUE:
        table = rows(here.state.measured, test)
        if not table:
            continue
        picture = card_png(test, table)
        if picture:
            images[test.name] = picture
        shown.append(_readings(workshop, here, test, table, plot=test.name if picture else None))
    return tuple(shown), images, _remarks(here.state.measured)


def _readings(
    workshop: Workshop, here: Bench, test: BenchTest, table: tuple[Row, ...], *, plot: str | None
) -> content.Readings:
    entries = [entry for row in table for entry in (row.as_found, row.as_left) if entry]
    factors = sorted(compared(entry)["U95_mean_stops"] / compared(entry)["u_mean_stops"] for entry in entries)
    lowest, highest = f"{factors[0]:.1f}", f"{factors[-1]:.1f}"
    profile = profile_named(workshop, here.job.visit.profile)
    sources = dict.fromkeys(str(compared(entry)["source"]) for entry in entries if compared(entry).get("source"))
    return content.Readings(
        title=test.title,
        rows=tuple(
            content.ReadingRow(
                marked=row.marked,
                as_found=reading_shown(row.as_found) if row.as_found else None,
                as_left=reading_shown(row.as_left) if row.as_left else None,
            )
            for row in table
        ),
        method="; ".join(dict.fromkeys(entry.method for entry in entries)),
        profile=profile.title,
        profile_source="; ".join(sources),
        decision_rule=DECISION_RULE,
        coverage_factor=lowest if lowest == highest else f"{lowest} to {highest}",
        setup="; ".join(dict.fromkeys(text for entry in entries if isinstance(text := entry.setup.get("words"), str))),
        plot=plot,
        plot_words="; ".join(
            f"{row.marked}: {reading_shown(entry).error} stops {phase}"
            for row in table
            for phase, entry in (("as found", row.as_found), ("as left", row.as_left))
            if entry
        ),
    )


def _remarks(measured: Iterable[Measured]) -> tuple[str, ...]:
    """Every flag of the readings once, with what it is about."""
    remarks: dict[str, None] = {}
    for entry in measured:
        record: Any = entry.result
        flags = [*record.get("flags", ()), *(flag for firing in record.get("firings", ()) for flag in firing["flags"])]
        for flag in flags:
            remarks[f"{entry.setup.get('marked') or entry.test}, {entry.phase}: {flag}"] = None
    return tuple(remarks)


def recordings_shown(here: Bench) -> tuple[content.RecordingShown, ...]:
    """The recordings behind the readings."""
    return tuple(
        content.RecordingShown(
            label=" ".join(str(word) for word in (entry.test, entry.setup.get("marked"), entry.phase) if word),
            sha256=entry.recording,
        )
        for entry in here.state.measured
    )
