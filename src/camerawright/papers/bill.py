"""The bill: hours and parts, and what they come to."""

from dataclasses import dataclass

from camerawright.job.now import JobNow
from camerawright.journal.entries import Supplied, Worked
from camerawright.papers.paper import Paper, head
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused
from camerawright.workshop.bill import WHERE_SET, BillLine, bill_sum, not_set


@dataclass(frozen=True, kw_only=True)
class Tax:
    """The tax line: its label holds the rate ("VAT 20 %")."""

    label: str
    amount_minor: int


@dataclass(frozen=True, kw_only=True)
class Bill(Paper):
    """What is to be paid: lines of work in `hours`, parts and materials in `lines`, either may be empty.

    Money is whole minor units, so that a bill can be checked before it is printed. `minor_digits` is the currency's
    exponent in ISO 4217: 2 for most, 0 for yen [iso-4217].

    Raises
    ------
    ValueError
        The lines do not add up to `net_minor`, or net and tax to `total_minor`: such a bill is not printed.
    """

    number: str
    customer: str  # name and address, may hold several lines
    currency: str  # ISO 4217 code
    net_minor: int
    total_minor: int
    hours: tuple[BillLine, ...] = ()
    lines: tuple[BillLine, ...] = ()
    tax: Tax | None = None
    notes: tuple[str, ...] = ()
    minor_digits: int = 2

    def __post_init__(self) -> None:
        """Refuse sums that do not add up."""
        net = sum(line.amount_minor for line in (*self.hours, *self.lines))
        if net != self.net_minor:
            raise ValueError(f"bill {self.number}: its lines make {net}, its net sum says {self.net_minor}")
        total = net + (self.tax.amount_minor if self.tax else 0)
        if total != self.total_minor:
            raise ValueError(f"bill {self.number}: net and tax make {total}, its total says {self.total_minor}")


def bill(workshop: Workshop, here: JobNow) -> Bill:
    """The bill of a job.

    Raises
    ------
    Refused
        No hours or parts are entered.
    """
    terms = workshop.terms()
    hours = bill_sum((entry for entry in here.state.entries if isinstance(entry, Worked)), terms)
    parts = bill_sum((entry for entry in here.state.entries if isinstance(entry, Supplied)), terms)
    whole = bill_sum(here.state.entries, terms)
    if not whole.lines:
        raise Refused(f"no hours or parts are entered for {here.job.id}", "enter what was worked and supplied", "bill")
    owner = here.job.owner
    missing = not_set(here.state.entries, terms)
    return Bill(
        **head(workshop, here),
        number=f"{here.job.id}-B",
        customer=f"{owner.name}\n{owner.contact}".strip(),
        currency=terms.currency,
        net_minor=whole.net_minor,
        total_minor=whole.total_minor,
        hours=hours.lines,
        lines=parts.lines,
        tax=Tax(label=f"Tax {terms.tax_percent} %", amount_minor=whole.tax_minor) if terms.tax_percent else None,
        notes=(*missing, WHERE_SET) if missing else (),
    )
