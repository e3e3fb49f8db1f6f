"""What was told about the set-up, from the text that was typed."""

from typing import TypeVar, overload

from camerawright.bench.contract import BadOption

Word = TypeVar("Word", bound=str)


def choice(option: str, given: str | None, known: tuple[Word, ...]) -> Word | None:
    """One of a few words, in any case; None where nothing was told.

    Raises
    ------
    BadOption
        It is none of them.
    """
    if given is None:
        return None
    for word in known:
        if given.strip().casefold() == word.casefold():
            return word
    raise BadOption(option, f"{given!r} is none of {', '.join(known)}")


@overload
def number(option: str, given: str, least: float, most: float) -> float: ...
@overload
def number(option: str, given: str | None, least: float, most: float) -> float | None: ...
def number(option: str, given: str | None, least: float, most: float) -> float | None:
    """A number within reason; None where nothing was told.

    Raises
    ------
    BadOption
        It is no such number.
    """
    if given is None:
        return None
    try:
        value = float(given)
    except ValueError:
        value = float("nan")
    if not least <= value <= most:
        raise BadOption(option, f"{given!r} is no number from {least:g} to {most:g}")
    return value
