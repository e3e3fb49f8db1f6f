"""How a record is written as JSON and read again: the only place that knows the keys.

A record is a frozen dataclass. Each field is one key of the same name; a `Quantity` is several (its value, u, ...),
named by the `Keys` in its annotation. What is missing in an older record takes the field's default.
"""

import math
import types
from collections.abc import Callable, Mapping, Sequence
from dataclasses import MISSING, Field, dataclass, fields, is_dataclass
from functools import cache, lru_cache
from typing import Annotated, Any, Final, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

import numpy as np
from scipy import optimize

from camerawright.quantity import BudgetLine, Quantity, coverage_factor
from camerawright.quantity import Kind as BudgetKind

Json = dict[str, Any]
"""What `json.dumps` takes, keys in the order in which they are shown."""
T = TypeVar("T")

_COMBINED: Final = "combined"


@dataclass(frozen=True)
class Keys:
    """The keys of a quantity: `{}` stands for the field's name. What has no key is not written.

    `u` is the standard uncertainty, `k95` the coverage factor of the 95 % interval, `expanded` half its width, `dof`
    the effective degrees of freedom, `budget` the lines.
    """

    unit: str
    value: str
    u: str
    k95: str = ""
    expanded: str = ""
    dof: str = ""
    budget: str = ""


def in_unit(unit: str, suffix: str = "", *, k95: str = "k95_{}", budget: str = "") -> Keys:
    """The usual keys of a quantity: `effective_s`, `u_effective_s`, `k95_effective` for the field `effective`."""
    end = f"_{suffix}" if suffix else ""
    return Keys(unit, value=f"{{}}{end}", u=f"u_{{}}{end}", k95=k95, budget=budget)


@dataclass(frozen=True)
class Named:
    """The key of a field that may not be called so in Python, as ``from``."""

    key: str


def written(record: Any) -> Json:
    """A record as JSON."""
    out: Json = {}
    for each in _fields(type(record)):  # type: ignore[arg-type]
        value = getattr(record, each.name)
        if each.keys is not None:
            out |= _quantity_written(each.name, value, each.keys)
        else:
            out[each.key] = _value_written(value)
    return out


def read(kind: type[T], stored: Mapping[str, Any]) -> T:
    """A record from its JSON.

    Raises
    ------
    KeyError, TypeError, ValueError
        The JSON is not that of such a record.
    """
    if not isinstance(stored, Mapping):
        raise TypeError(f"{kind.__name__}: {stored!r} is no object")
    given: dict[str, Any] = {}
    for each in _fields(kind):  # type: ignore[arg-type]
        if each.keys and stored.get(each.key) is not None:
            given[each.name] = _quantity_read(each.name, stored, each.keys)
        elif each.key in stored:
            given[each.name] = _value_read(each.annotation, stored[each.key])
        elif each.keys and each.is_optional:
            given[each.name] = None
        elif each.is_needed:
            raise KeyError(each.key)
    return kind(**given)


@dataclass(frozen=True, kw_only=True)
class _Field:
    """A field of a record, and how it is stored."""

    name: str
    annotation: Any
    keys: Keys | None
    key: str
    is_optional: bool
    is_needed: bool


@cache
def _fields(kind: Any) -> tuple[_Field, ...]:
    """The fields of a dataclass that are stored."""
    hints = get_type_hints(kind, include_extras=True)
    return tuple(_field(each, hints[each.name]) for each in fields(kind) if each.metadata.get("stored", True))


def _field(each: "Field[Any]", annotation: Any) -> _Field:
    keys = _marker(annotation, Keys)
    return _Field(
        name=each.name,
        annotation=annotation,
        keys=keys,
        key=keys.value.format(each.name) if keys else _key(each, annotation),
        is_optional=_is_optional(annotation),
        is_needed=each.default is MISSING and each.default_factory is MISSING,
    )


def _marker(annotation: Any, kind: type[T]) -> T | None:
    """The `Keys` or `Named` in an annotation."""
    for one in getattr(annotation, "__metadata__", ()):
        if isinstance(one, kind):
            return one
    parts = get_args(annotation) if _is_union(annotation) else ()
    return next((found for part in parts if (found := _marker(part, kind))), None)


def _key(each: "Field[Any]", annotation: Any) -> str:
    named = _marker(annotation, Named)
    return named.key if named else each.name


def _is_union(annotation: Any) -> bool:
    return get_origin(annotation) in (Union, types.UnionType)


def _is_optional(annotation: Any) -> bool:
    """Whether None is allowed."""
    if get_origin(annotation) is Annotated:
        return _is_optional(get_args(annotation)[0])
    return annotation is type(None) or (_is_union(annotation) and type(None) in get_args(annotation))


# -- quantities --------------------------------------------------------------------------------------------------------


def _quantity_written(name: str, quantity: Quantity | None, keys: Keys) -> Json:
    """The keys of a quantity, null where there is none."""
    wanted: dict[str, Callable[[Quantity], Any]] = {
        keys.value: lambda one: one.value,
        keys.u: lambda one: one.u,
        keys.k95: lambda one: coverage_factor(one.dof),
        keys.expanded: lambda one: one.expanded_u,
        keys.dof: lambda one: _finite(one.dof),
        keys.budget: lambda one: lines_written(one.budget),
    }
    return {key.format(name): get(quantity) if quantity else None for key, get in wanted.items() if key}


def lines_written(budget: Sequence[BudgetLine]) -> list[Json]:
    """The lines of a budget; infinite degrees of freedom are null."""
    return [{"name": line.name, "u": line.u, "dof": _finite(line.dof), "kind": line.kind} for line in budget]


def _finite(dof: float) -> float | None:
    return dof if math.isfinite(dof) else None


def _quantity_read(name: str, stored: Mapping[str, Any], keys: Keys) -> Quantity:
    """A quantity with its budget, or with one line for all of its uncertainty where no budget was written."""
    value, u = _number(stored[keys.value.format(name)]), _uncertainty(stored.get(keys.u.format(name)) or 0.0)
    lines = stored.get(keys.budget.format(name)) if keys.budget else None
    if lines:
        return Quantity(value, keys.unit, tuple(_line_read(line) for line in lines))
    k95 = stored.get(keys.k95.format(name)) if keys.k95 else None
    if keys.expanded and u > 0:
        k95 = _uncertainty(stored[keys.expanded.format(name)]) / u
    return Quantity(value, keys.unit, (BudgetLine(_COMBINED, u, dof_of(_number(k95)) if k95 else math.inf),))


def _line_read(stored: Mapping[str, Any]) -> BudgetLine:
    dof = math.inf if stored["dof"] is None else _number(stored["dof"])
    if dof <= 0:
        raise ValueError(f"{dof} degrees of freedom")
    kind = _value_read(BudgetKind, stored["kind"])
    return BudgetLine(_value_read(str, stored["name"]), _uncertainty(stored["u"]), dof, kind)


@lru_cache(maxsize=10_000)
def dof_of(k95: float) -> float:
    """The degrees of freedom that a coverage factor was computed from."""
    if k95 <= coverage_factor(1e9):
        return math.inf
    root = optimize.brentq(lambda log_dof: coverage_factor(math.exp(log_dof)) - k95, -3.0, 21.0, xtol=1e-13)
    return math.exp(float(root))


# -- everything else ---------------------------------------------------------------------------------------------------


def _value_written(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return written(value)
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, tuple | list | range):
        return [_value_written(one) for one in value]
    if isinstance(value, Mapping):
        return {key: _value_written(one) for key, one in value.items()}
    return value


def _value_read(annotation: Any, stored: Any) -> Any:
    """What an annotation wants, from what was stored."""
    origin, inner = get_origin(annotation), get_args(annotation)
    if stored is None:
        return _nothing_read(annotation)
    if origin is Literal:
        return inner[inner.index(stored)]  # raises ValueError for another word
    if origin is Annotated:
        return _value_read(inner[0], stored)
    if _is_union(annotation):
        return _value_read(next(part for part in inner if part is not type(None)), stored)
    if origin in _CONTAINERS:
        return _CONTAINERS[origin](inner, stored)
    is_record = isinstance(annotation, type) and is_dataclass(annotation)
    return read(annotation, stored) if is_record else _PLAIN.get(annotation, annotation)(stored)


def _number(stored: Any) -> float:
    """A number of JSON, of a size that arithmetic bears: no figure of a bench is larger."""
    if isinstance(stored, bool) or not isinstance(stored, int | float) or not -_MOST <= stored <= _MOST:
        raise ValueError(f"{str(stored)[:40]!r} is no number that a bench test gives")
    return float(stored)


def _whole(stored: Any) -> int:
    if isinstance(stored, bool) or not isinstance(stored, int) or not -_MOST <= stored <= _MOST:
        raise ValueError(f"{str(stored)[:40]!r} is no whole number that a bench test gives")
    return stored


def _uncertainty(stored: Any) -> float:
    u = _number(stored)
    if u < 0:
        raise ValueError(f"an uncertainty of {u}")
    return u


def _itself(kind: type) -> Callable[[Any], Any]:
    """What is of a type already; nothing is turned into it, since "no" would become a truth and 5 a text."""

    def of_kind(stored: Any) -> Any:
        if not isinstance(stored, kind):
            raise TypeError(f"{str(stored)[:40]!r} is no {kind.__name__}")
        return stored

    return of_kind


_MOST: Final = 1e30
_PLAIN: Final[Mapping[Any, Callable[[Any], Any]]] = {
    float: _number,
    int: _whole,
    bool: _itself(bool),
    str: _itself(str),
}


def _nothing_read(annotation: Any) -> None:
    """A null, where it is allowed."""
    if annotation is not type(None) and not _is_optional(annotation):
        raise TypeError(f"null is no {annotation}")


def _dict_read(inner: tuple[Any, ...], stored: Any) -> dict[Any, Any]:
    if not isinstance(stored, Mapping):
        raise TypeError(f"{str(stored)[:40]!r} is no object")
    return {_value_read(inner[0], key): _value_read(inner[1], one) for key, one in stored.items()}


def _array_read(_inner: tuple[Any, ...], stored: Any) -> Any:
    array = np.asarray(stored, dtype=np.float64)
    if not isinstance(stored, list) or not np.isfinite(array).all():
        raise ValueError(f"{str(stored)[:40]!r} is no list of numbers")
    return array


def _tuple_read(inner: tuple[Any, ...], stored: Sequence[Any]) -> tuple[Any, ...]:
    if not isinstance(stored, list):
        raise TypeError(f"{stored!r} is no list")
    kinds = [inner[0]] * len(stored) if inner[-1] is Ellipsis else inner
    return tuple(_value_read(kind, one) for kind, one in zip(kinds, stored, strict=True))


_CONTAINERS: Final[Mapping[Any, Callable[[tuple[Any, ...], Any], Any]]] = {
    tuple: _tuple_read,
    dict: _dict_read,
    np.ndarray: _array_read,
}
