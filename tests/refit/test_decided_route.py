"""The practitioner's own decision how a part is cleaned goes before the computed route, with what speaks against it."""

from camerawright.job.cleaning import plan
from camerawright.journal.entries import Cleaned, CleaningDecided, Entry
from tests.job.test_cleaning import minute, off, on_the_bench


def _decided(route: str) -> CleaningDecided:
    return CleaningDecided(at=minute(1), part="Plate", route=route, reason="it went well on the last three")


def test_a_decision_goes_before_the_route_that_was_worked_out() -> None:
    (computed,) = plan(on_the_bench([off(0, "plate", "brass", "dried grease")])).loads
    (load,) = plan(on_the_bench([off(0, "plate", "brass", "dried grease"), _decided("swab, isopropyl alcohol")])).loads
    assert computed.batch.name != load.batch.name
    assert load.batch.name == "swab, isopropyl alcohol"


def test_words_of_ones_own_are_a_process_too_and_can_be_ticked_off() -> None:
    entries: list[Entry] = [off(0, "plate", "brass"), _decided("wiped with a chamois")]
    (task,) = plan(on_the_bench(entries)).tasks
    assert task.route.name == "wiped with a chamois"
    assert "it went well on the last three" in task.route.reasons[0].text
    assert not task.route.ask
    done: list[Entry] = [*entries, Cleaned(at=minute(2), part="plate", route="wiped with a chamois")]
    assert plan(on_the_bench(done)).tasks[0].is_done


def test_what_speaks_against_it_is_shown_beside_it() -> None:
    """Celluloid swells in acetone and in alcohol (the handbook's own row)."""
    entries: list[Entry] = [off(0, "plate", "celluloid", finish="none"), _decided("swab, isopropyl alcohol")]
    (task,) = plan(on_the_bench(entries)).tasks
    assert any(caution.text.startswith("Against it: ") for caution in task.route.cautions)
    assert any("flam" in caution.text.casefold() for caution in task.route.cautions)
