"""One command for each kind of entry, made from what its class says.

JOB and the fields that an entry cannot do without are given in their order, everything else as an option, and the
reason always as `--because WHY`.
"""

import ast
import inspect
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import typer

from camerawright.cli.entering import enter
from camerawright.cli.made import Parameters, argument, context, made_command, option
from camerawright.cli.shell import workshop_of

if TYPE_CHECKING:
    from camerawright.journal.asked import Asked
    from camerawright.journal.entry import AnEntry, Command


class Headline(NamedTuple):
    """A command as the list of commands has it."""

    word: str
    heading: str
    says: str


@cache
def headlines() -> tuple[Headline, ...]:
    """The commands that there are, read from the source of the kinds.

    To import the kinds takes longer than all else that a page of help needs.
    """
    from camerawright.journal import kinds

    sources = (path.read_text(encoding="utf-8") for path in sorted(Path(kinds.__path__[0]).glob("*.py")))
    return tuple(headline for source in sources for headline in _headlines(ast.parse(source)))


def _headlines(module: ast.Module) -> Iterator[Headline]:
    for entry in (each for each in module.body if isinstance(each, ast.ClassDef)):
        for call in ast.walk(entry):
            if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "Command":
                word, heading = (ast.literal_eval(given) for given in call.args[:2])
                own = next((ast.literal_eval(each.value) for each in call.keywords if each.arg == "text"), "")
                yield Headline(word, heading, (own or ast.get_docstring(entry) or "").partition("\n")[0])


@cache
def entry_command(word: str) -> Any:
    """The command of that word; None if no kind of entry has it."""
    from camerawright.journal.entries import KINDS

    of_word = ((kind, each) for kind in KINDS.values() for each in kind.commands if each.word == word)
    kind, command = next(of_word, (None, None))
    if kind is None or command is None:
        return None
    more, filled = _MORE.get(word, ([], None))
    parameters = [context(), argument("job", str, "JOB", "The job: J3, or 3."), *_parameters(kind, command), *more]
    made = made_command(word, _run(kind, command, filled), parameters)
    made.rich_help_panel = command.heading
    return made


Given = dict[str, Any]
"""What was given on the command line, by the fields' names."""


def _run(
    kind: "type[AnEntry]", command: "Command", filled: "Callable[[typer.Context, Given], Given] | None"
) -> Callable[..., None]:
    """What the command does."""
    from camerawright.journal.asked import asked
    from camerawright.journal.typed import NotAnEntry

    def run(ctx: typer.Context, **given: Any) -> None:
        given = filled(ctx, given) if filled else given
        typed = {field.name: _text(field, given.get(field.name)) for field in asked(kind)}
        try:
            enter(ctx, given["job"], _kind_word(kind), {**typed, **command.fixed}, given.get("photo"))
        except NotAnEntry as wrong:
            shown = {field.name: _shown(field) for field in asked(kind)}
            raise NotAnEntry([replace(each, where=shown[each.where]) for each in wrong.troubles]) from None

    run.__doc__ = f"{inspect.cleandoc(command.text or kind.__doc__ or '')}\n\n{_examples(command)}"
    return run


def changed_by(kind: "type[AnEntry]") -> dict[str, str]:
    """The option by which a correction changes each field of an entry."""
    return {field.name: _changed_by(field) for field in _changeable(kind)}


def changed(kind: "type[AnEntry]", args: list[str]) -> dict[str, str | list[str]]:
    """What the options of a correction say, by the fields' names; any field of the entry may be given.

    Raises
    ------
    camerawright.trouble.Refused
        None is given.
    """
    from camerawright.trouble import Refused

    given: Given = {}
    options = [_changing(field) for field in _changeable(kind)]
    command = made_command("correct", lambda **each: given.update(each), options)
    command.main(args, prog_name="camerawright correct JOB ENTRY", standalone_mode=False)
    said = {name: value for name, value in given.items() if value not in (None, [])}
    if not said:
        raise Refused("say what is to be different", f"give one of {', '.join(changed_by(kind).values())}", "correct")
    return {
        name: [each for each in value if each.strip()] if isinstance(value, list) else value
        for name, value in said.items()
    }


def _changeable(kind: "type[AnEntry]") -> "list[Asked]":
    from camerawright.journal.asked import asked

    return [field for field in asked(kind) if field.name not in _NOT_CHANGED and not field.is_photo]


def _changed_by(field: "Asked") -> str:
    """The option of a field. `--because` is taken: it is the reason for the correction itself."""
    return f"--{field.name if field.called == 'because' else field.called}"


def _changing(field: "Asked") -> inspect.Parameter:
    takes: Any = list[str] if field.text.between else str
    metavar = "yes|no" if field.is_flag else field.text.stands_for
    return option(field.name, takes | None, typer.Option(_changed_by(field), metavar=metavar, help=field.label))


_NOT_CHANGED = frozenset({"words", "overruled", "entry"})
"""What a correction keeps: it changes what was said, not which entry it is."""


def _kind_word(kind: "type[AnEntry]") -> str:
    return str(kind.model_fields["kind"].default)


def _text(field: "Asked", given: Any) -> str | list[str]:
    """What was given for a field, as text; a flag says the opposite of what goes without saying."""
    if isinstance(given, bool):
        return ("no" if field.default else "yes") if given else ""
    return given if isinstance(given, str | list) else ""


def _examples(command: "Command") -> str:
    heading = "Example" if len(command.examples) == 1 else "Examples"
    return "\n".join(["\b", f"{heading}:", *(f"  camerawright {example}" for example in command.examples)])


def _parameters(kind: "type[AnEntry]", command: "Command") -> Parameters:
    """What the command takes: first what must be given in its place."""
    from camerawright.journal.asked import asked

    fields = [field for field in asked(kind) if field.name not in command.fixed]
    return [
        *(_argument(field) for field in fields if _is_argument(field)),
        *(_option(field) for field in fields if not _is_argument(field)),
    ]


def _is_argument(field: "Asked") -> bool:
    return field.is_needed and field.called != "because"


def _shown(field: "Asked") -> str:
    """What the help and the refusals call a field."""
    if not _is_argument(field):
        return f"--{field.called}"
    return f"{field.text.stands_for}..." if field.text.between else field.called.upper()


def _argument(field: "Asked") -> inspect.Parameter:
    return argument(field.name, list[str] if field.text.between else str, _shown(field), _help(field))


def _option(field: "Asked") -> inspect.Parameter:
    name, says = _shown(field), _help(field)
    if field.is_flag:
        return option(field.name, bool, typer.Option(name, help=says), False)
    takes: Any = Path if field.is_photo else list[str] if field.text.between else str
    given = typer.Option(name, metavar=field.text.stands_for, help=says, show_default=False)
    if field.is_needed:
        return option(field.name, takes, given, inspect.Parameter.empty)
    return option(field.name, takes | None, given)


def _help(field: "Asked") -> str:
    """What a field is, its choices, an example, and what more there is to say."""
    if field.is_flag:
        said = field.reads[False] if field.default else field.label
        return " ".join(filter(None, (f"{said[:1].upper()}{said[1:]}.", field.help)))
    if field.about and not field.help:
        return field.about
    choices = f": {', '.join(field.choices)}" if field.choices else ""
    one = field.example.split(field.text.between)[0] if field.text.between else field.example
    example = f", like {_quoted(one)}" if one else ""
    each = f"; once for each {field.text.each}".rstrip() if field.text.between and not _is_argument(field) else ""
    unsaid = f" ({field.default} if you leave it out)" if isinstance(field.default, str | int) else ""
    return " ".join(filter(None, (f"{field.label}{choices}{example}{each}{unsaid}.", field.help)))


def _quoted(example: str) -> str:
    return f'"{example}"' if " " in example else example


# What two commands take beside their entry's fields, or read in their own way.


def _all_back(ctx: typer.Context, given: Given) -> Given:
    """With `--all`, what came out goes back."""
    hardware = ("fasteners", "shims", "loose", "leads")
    if not given.pop("everything"):
        return given
    if any(given[name] for name in hardware):
        raise typer.BadParameter("--all puts back what came out; give it or --screw, --shim, --loose, --lead")
    from camerawright.job.now import job_now
    from camerawright.journal.asked import field_of

    with workshop_of(ctx) as workshop:
        removed = job_now(workshop, given["job"]).state.part(given["part"]).removed
    if removed is None:
        return given
    fields = filter(None, (field_of(type(removed), name) for name in hardware))
    return given | {field.name: [field.text.write(each) for each in getattr(removed, field.name)] for field in fields}


def _owed_called(ctx: typer.Context, given: Given) -> Given:
    """What is owed may be called by words of it."""
    from camerawright.job.entering import promise_called
    from camerawright.job.now import job_now

    with workshop_of(ctx) as workshop:
        here = job_now(workshop, given["job"])
    return given | {"entry": promise_called(here, given["entry"]) if given["entry"].strip() else ""}


_MORE: dict[str, tuple[Parameters, Callable[[typer.Context, Given], Given]]] = {
    "refitted": (
        [option("everything", bool, typer.Option("--all", help="With all that came out with it."), False)],
        _all_back,
    ),
    "answer": ([], _owed_called),
}
