"""Why a recording did not become a reading, as a trouble on a page: in one wording, sent or recorded."""

from camerawright.bench.record import Refusal
from camerawright.trouble import Stale, Trouble, Troubled


def trouble_of(error: Troubled, about: str = "") -> Trouble:
    """What is wrong and the mend; `about` is the file as its sender knows it."""
    if isinstance(error, Stale):
        return Trouble(what="the journal grew meanwhile", mend="send it again", where=about)
    if about and (not error.where or about.startswith(error.where)):
        return Trouble(what=error.what, mend=error.mend, where=about)
    where = f"{about}: {error.where}" if about else error.where
    return Trouble(what=error.what, mend=error.mend, where=where)


def trouble_of_refusal(refused: Refusal, about: str = "", more: str = "") -> Trouble:
    """Why a test could not measure it, with its advice, and what became of the recording."""
    what, mend = refused.reason.rstrip(". "), refused.advice.rstrip(". ")
    return Trouble(what=what, mend=f"{mend}; {more}" if more else mend, where=about)
