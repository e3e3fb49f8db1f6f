"""What an array primitive raises when the data hold no answer."""


class NoAnswer(Exception):
    """The data hold no answer: why, and what to do instead. A bench test turns it into its `NotMeasurable`."""

    def __init__(self, reason: str, advice: str) -> None:
        super().__init__(f"{reason}. {advice}")
        self.reason = reason
        self.advice = advice
