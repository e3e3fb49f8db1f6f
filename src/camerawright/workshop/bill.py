"""What the owner pays: hours and parts, in whole minor units of one currency."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from camerawright.journal.entries import Entry, Supplied, Worked
from camerawright.workshop.rows import Terms


@dataclass(frozen=True, kw_only=True)
class BillLine:
    """One line; `amount_minor` is rounded once, here."""

    description: str
    quantity: str
    unit_minor: int
    amount_minor: int


@dataclass(frozen=True, kw_only=True)
class BillSum:
    """All lines and what they come to."""

    lines: tuple[BillLine, ...]
    net_minor: int
    tax_minor: int
    total_minor: int


def bill_sum(entries: Iterable[Entry], terms: Terms) -> BillSum:
    """Add up what was worked and supplied.

    Notes
    -----
    Each line is rounded half up to the minor unit, then the tax on the net sum (common practice).
    """
    lines = []
    for entry in entries:
        if isinstance(entry, Worked):
            amount = _rounded(Decimal(entry.minutes) * terms.hourly_rate_minor / 60)
            lines.append(
                BillLine(
                    description=entry.task,
                    quantity=f"{entry.minutes // 60} h {entry.minutes % 60:02d} min",
                    unit_minor=terms.hourly_rate_minor,
                    amount_minor=amount,
                )
            )
        elif isinstance(entry, Supplied):
            lines.append(
                BillLine(
                    description=entry.item,
                    quantity=str(entry.count),
                    unit_minor=entry.price_minor,
                    amount_minor=entry.count * entry.price_minor,
                )
            )
    net = sum(line.amount_minor for line in lines)
    tax = _rounded(Decimal(net) * Decimal(terms.tax_percent) / 100) if terms.tax_percent else 0
    return BillSum(lines=tuple(lines), net_minor=net, tax_minor=tax, total_minor=net + tax)


def _rounded(amount: Decimal) -> int:
    """Half up, to the minor unit."""
    return int(amount.quantize(Decimal(1), rounding=ROUND_HALF_UP))


WHERE_SET: Final = (
    "The name of the bench, its address, the currency, the hourly rate and the tax are set in the file workshop.toml "
    "in the workshop folder."
)


def not_set(entries: Iterable[Entry], terms: Terms) -> tuple[str, ...]:
    """What the bill lacks because nobody set it, in words."""
    said = []
    if not terms.hourly_rate_minor and any(isinstance(entry, Worked) for entry in entries):
        said.append("No hourly rate is set: the hours stand at 0.00.")
    if terms.name == Terms.name:
        said.append("The bench has no name yet.")
    return tuple(said)
