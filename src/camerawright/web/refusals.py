"""Why a recording did not become a reading, as a problem on a page: in one wording, sent or recorded."""

from camerawright.bench.contract import Json
from camerawright.handbook.tolerances import BadProfile
from camerawright.journal.rules import Problem
from camerawright.recordings.unreadable import Unreadable
from camerawright.store.refused import Refused, Stale


def problem_of(error: BadProfile | Unreadable | Refused, about: str = "") -> Problem:
    """What is wrong and the mend; `about` is the file as its sender knows it."""
    match error:
        case Stale():
            what, mend = "the journal grew meanwhile", "send it again"
        case Refused() if about.startswith(error.what):
            what, mend = error.where, error.mend
        case Refused():
            what, mend = f"{error.what}: {error.where}", error.mend
        case Unreadable():
            what, mend = error.what if about else f"{error.where}: {error.what}", error.mend
        case _:
            what, mend = str(error), "mend the tolerance profile in the workshop's folder"
    return _problem(what, mend, about)


def problem_of_refusal(refused: Json, about: str = "", more: str = "") -> Problem:
    """Why a test could not measure it, with its advice, and what became of the recording."""
    what, mend = (str(refused.get(name, "")).rstrip(". ") for name in ("reason", "advice"))
    return _problem(what, f"{mend}; {more}" if more else mend, about)


def _problem(what: str, mend: str, about: str) -> Problem:
    return Problem(what=f"{about}: {what}" if about else what, mend=mend, can_overrule=False)
