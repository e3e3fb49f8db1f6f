"""Entries of what is owed: reminders, hold points, and their answers."""

from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from camerawright.journal.entry import AnEntry, Command, Form, NamesAPart
from camerawright.journal.fields import CLOSING, Day, EntryId, Part, Parts, Reads, Test, Words, part_key

Outcome = Literal["passed", "failed"]


class Reminded(NamesAPart):
    """Leave a reminder for when a part goes back.

    Its refit waits until you answer.
    """

    kind: Literal["reminded"] = "reminded"
    part: Part = Field(title="When this goes back", description="A part, or “closing” for the end of the job.")
    todo: Words = Field(title="Do this first")
    test: Test | None = Field(
        None, title="Before this test as left", description="The reading as left of this bench test waits for it, too."
    )
    due: Day | None = Field(None, title="Not before", description="You cannot answer it before this day.")

    commands = (
        Command(
            "remind",
            "What is owed",
            'remind J3 "lens board" "new light seal beneath"',
            'remind J3 closing "return the filter to its case"',
            'remind J3 closing "fire it once more after its rest" --test shutter --due 2031-05-04',
        ),
    )
    form = Form("Reminder", "Remind me then")
    says = ("{when}: {todo}", "also before {test} is measured as left", "not before {due}")

    @property
    def when(self) -> str:
        """When it comes up."""
        return "at the closing" if part_key(self.part) == CLOSING else f"when {self.part} goes back"

    @property
    def asks(self) -> str:
        """What is to be done."""
        return self.todo


class HoldPoint(NamesAPart):
    """Set a check to pass before a part goes back.

    If the check fails later, the part has to come off again. If you name no part, the check comes before whatever
    goes over the parts that it needs. A check at “closing” holds nothing up before the end.
    """

    kind: Literal["hold point"] = "hold point"
    part: Part | None = Field(
        None, title="Before this goes back", description="A part, or “closing” for the end of the job."
    )
    check: Words = Field(title="Check that")
    needs: Parts = Field(
        (),
        title="Needs in place",
        description="Parts or sub-assemblies. The check is due as soon as all of them are back.",
    )
    due: Day | None = Field(
        None,
        title="Not before",
        description="For a test that takes days. Until then only what surely covers these parts waits for it.",
    )

    commands = (
        Command(
            "hold",
            "What is owed",
            'hold J3 "flash fires at 1/25" --part "top cover" --needs shutter --needs "flash lead"',
        ),
    )
    form = Form("Hold point", "Set the hold point")
    says = ("{when}, check: {check}", "it needs {needs} in place", "not before {due}")

    @property
    def is_at_closing(self) -> bool:
        """Whether it is left to the end of the job."""
        return part_key(self.part) == CLOSING if self.part else not self.needs

    @property
    def is_of_the_whole(self) -> bool:
        """Whether it is a check of the whole camera: at the end of the job, and of no part by name."""
        return self.is_at_closing and not self.needs

    @property
    def when(self) -> str:
        """When it comes up."""
        if self.is_at_closing:
            return "before closing"
        return f"before {self.part} goes back" if self.part else "as soon as possible"

    @property
    def asks(self) -> str:
        """What is to be checked."""
        return f"check: {self.check}"


class Answered(AnEntry):
    """Answer what is owed.

    You did what a reminder asked for, made a check, or dealt with a finding. A check that failed stays owed and holds
    up what it held up, until you answer that it passed.
    """

    kind: Literal["answered"] = "answered"
    entry: EntryId = Field(title="What is owed", description="The beginning of its id, or words of it.")
    answer: Words = Field(description="What you did or saw.")
    outcome: Annotated[Outcome, Reads({"passed": "it passed", "failed": "it failed, and stays owed"})] | None = Field(
        None, title="Of a check: it", description="Passed, if you do not say that it failed."
    )

    commands = (
        Command(
            "answer",
            "What is owed",
            'answer J3 "light seal" "1 mm foam, new"',
            'answer J3 4f0c2a "fires, 5 of 5"',
            'answer J3 "flash fires" "only at 1/10" --outcome failed',
        ),
    )
    form = Form("Answer", "Answer")
    says = ("“{entry}” answered: {answer}", "{outcome}")

    @model_validator(mode="before")
    @classmethod
    def _outcome_is_answer_enough(cls, given: Any) -> Any:
        """Who presses “passed” with oily hands types nothing."""
        if isinstance(given, dict) and given.get("outcome") and not given.get("answer"):
            return {**given, "answer": given["outcome"]}
        return given

    @property
    def has_failed(self) -> bool:
        """Whether what was to be checked or done is still to be put right."""
        return self.outcome == "failed"


Owed = Reminded | HoldPoint | Answered
