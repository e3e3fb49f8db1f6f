"""The bill: hours and parts in whole minor units."""

from camerawright.journal.entries import Entry, Supplied, Worked
from camerawright.workshop.bill import bill_sum, not_set
from camerawright.workshop.rows import Terms
from tests.journal.makers import START


def test_hours_are_charged_by_the_minute_and_rounded_once() -> None:
    terms = Terms(hourly_rate_minor=5000, tax_percent="19")
    entries: list[Entry] = [
        Worked(at=START, minutes=95, task="strip-down and cleaning"),  # 95/60 × 50.00 = 79.1666…
        Supplied(at=START, item="light seal", count=2, price_minor=325),
    ]
    bill = bill_sum(entries, terms)
    assert [line.amount_minor for line in bill.lines] == [7917, 650]
    assert [line.quantity for line in bill.lines] == ["1 h 35 min", "2"]
    assert bill.net_minor == 8567
    assert bill.tax_minor == 1628  # 8567 × 0.19 = 1627.73
    assert bill.total_minor == 8567 + 1628


def test_a_bench_without_tax_prints_none() -> None:
    bill = bill_sum([Supplied(at=START, item="spring", price_minor=100)], Terms())
    assert (bill.tax_minor, bill.total_minor) == (0, 100)


def test_half_a_minor_unit_is_rounded_up() -> None:
    bill = bill_sum([Worked(at=START, minutes=1, task="check")], Terms(hourly_rate_minor=30))
    assert bill.net_minor == 1


def test_a_rate_or_a_name_that_nobody_set_is_said() -> None:
    worked = [Worked(at=START, minutes=270, task="serviced")]
    assert len(not_set(worked, Terms())) == 2
    assert "0.00" in not_set(worked, Terms(name="At the bench"))[0]
    assert not_set([], Terms(name="At the bench")) == ()  # nothing worked, nothing charged
    assert not_set(worked, Terms(name="At the bench", hourly_rate_minor=5000)) == ()
