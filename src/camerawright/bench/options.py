"""What was told about the set-up, from the text that was typed."""

from typing import TypeVar, overload

from camerawright.trouble import NotUnderstood

Word = TypeVar("Word", bound=str)


def choice(option: str, given: str | None, known: tuple[Word, ...]) -> Word | None:
    """One of a few words, in any case; None where nothing was told.

    Raises
    ------
    NotUnderstood
        It is none of them.
    """
    if given is None:
        return None
    for word in known:
        if given.strip().casefold() == word.casefold():
            return word
    raise NotUnderstood(f"{given!r} is not known", f"give one of {', '.join(known)}", option)


@overload
def number(option: str, given: str, least: float, most: float) -> float: ...
@overload
def number(option: str, given: str | None, least: float, most: float) -> float | None: ...
def number(option: str, given: str | None, least: float, most: float) -> float | None:
    """A number within reason; None where nothing was told.

    Raises
    ------
    NotUnderstood
        It is no such number.
    """
    if given is None:
        return None
    try:
        value = float(given)
    except ValueError:
        value = float("nan")
    if not least <= value <= most:
        raise NotUnderstood(f"{given!r} is not understood", f"give a number from {least:g} to {most:g}", option)
    return value
