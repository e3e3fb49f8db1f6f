"""The desk of a workshop, where recordings come in; and what pages about them share."""

from threading import Lock
from typing import Any, Final, get_args

from starlette.requests import Request

from camerawright.bench.contract import BenchTest
from camerawright.job.now import JobNow
from camerawright.journal.entries import Adjusted, Phase
from camerawright.readings.live import Desk
from camerawright.web.render import workshop_of

PHASES: Final[tuple[Phase, ...]] = get_args(Phase)
_MAKING: Final = Lock()


def desk_of(request: Request) -> Desk:
    """Where this workshop records and keeps what waits; made when it is first asked for."""
    state = request.app.state
    with _MAKING:
        if not hasattr(state, "desk"):
            state.desk = Desk(workshop_of(request))
        desk = state.desk
    assert isinstance(desk, Desk)
    return desk


def phase_now(at: JobNow) -> Phase:
    """As left as soon as anything came off, or an adjuster was turned."""
    is_off = any(part.removed for part in at.state.parts.values())
    return "as left" if is_off or any(isinstance(entry, Adjusted) for entry in at.state.entries) else "as found"


def phase_called(text: str) -> Phase | None:
    """A phase by its words."""
    return next((each for each in PHASES if each == text), None)


def last_test(at: JobNow, among: tuple[BenchTest[Any], ...]) -> str:
    """The test that this job was measured by last, if it is one of those."""
    last = at.state.measured[-1].test if at.state.measured else ""
    return last if last in {test.name for test in among} else ""
