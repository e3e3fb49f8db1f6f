"""Texts and switches of a command, taken as they were typed.

Typer has each parameter checked by pydantic, and to load that takes longer than to list the jobs. In a text there is
nothing to check; what is more than a text goes typer's own way.
"""

from collections.abc import Iterable
from typing import Any


def take_as_typed(params: Iterable[Any]) -> None:
    """Let the texts among the parameters of a command pass as they are."""
    for param in params:
        param._runtime_param = _AsTyped()


class _AsTyped:
    """Stands where typer keeps what checks a parameter, and makes room for that where it is needed."""

    def coerce(self, value: Any, param: Any, ctx: Any) -> Any:
        """The value that the command gets."""
        kind, is_several = param.type_descriptor.annotation, param.multiple or param.nargs != 1
        if value is None:
            return () if is_several else None
        if kind is str and isinstance(value, str):
            return value
        if kind == list[str] and is_several and not isinstance(value, str):
            return list(value)
        param._runtime_param = None
        return param.get_runtime_param().coerce(value, param=param, ctx=ctx)
