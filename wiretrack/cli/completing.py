# SPDX-License-Identifier: MIT
"""What a shell completes: codes, tags, stocks, fields and their words.

It reads alone, at once, and says nothing where it can't.
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click.shell_completion import CompletionItem

from wiretrack.cli.wording import REGISTRY

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from wiretrack.model.fields import Kind

    Words = Callable[[click.Context, str], Iterable[tuple[str, str]]]

_THINGS = ("circuit", "pull", "raceway", "enclosure", "conductor")
_PLACES = ("device", "terminal")
# Which kinds of records a parameter names, by its name.
_NAMED: dict[str, tuple[str, ...]] = {
    "what": _THINGS,
    "subject": ("conductor", "circuit"),
    **dict.fromkeys(("tag", "tags", "other", "good", "against"), ("conductor",)),
    **dict.fromkeys(("enclosure", "box", "near", "far", "through", "at_box"), ("enclosure",)),
    **{kind: (kind,) for kind in ("circuit", "pull", "raceway", "device", "instrument")},
}


def teach(command: click.Command) -> None:
    """Let the parameters of a command, and of those below it, complete what they name."""
    for inner in getattr(command, "commands", {}).values():
        teach(inner)
    for param in command.params:
        words = words_of(param)
        if words is not None:
            param.shell_complete = _completing(words)  # type: ignore[method-assign,assignment]


def words_of(param: click.Parameter) -> Words | None:
    """Return what gives the words that a parameter may be, if that is known."""
    name = str(param.name)
    if name in _OTHERS and not isinstance(param.type, click.Choice):
        return _OTHERS[name]
    kinds = named_kinds(name)
    if kinds is None or isinstance(param.type, click.Choice | click.Path):
        return None
    return lambda ctx, begun: _records(ctx, begun, kinds)


def named_kinds(name: str) -> tuple[str, ...] | None:
    """Return which kinds of records a parameter of this name names."""
    return _NAMED.get(name)


def _completing(words: Words) -> Callable[[click.Context, str], list[CompletionItem]]:
    def complete(ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        with suppress(Exception):  # a shell is no place for a message
            return [CompletionItem(word, help=told) for word, told in words(ctx, incomplete)]
        return []

    return complete


def _records(ctx: click.Context, begun: str, kinds: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    from wiretrack.store.lists import suggestions

    if kinds == _THINGS and "/" in begun:
        kinds = _PLACES
    return suggestions(_registry(ctx), begun, kinds)


def _registry(ctx: click.Context) -> Path:
    from wiretrack.files import found_above

    given = ctx.find_root().params.get("db")
    return Path(given) if given else found_above(REGISTRY)


def _stocks(_: click.Context, begun: str) -> Iterator[tuple[str, str]]:
    from wiretrack.labels.stocks import shipped_stocks

    for name, stock in shipped_stocks().items():
        if name.startswith(begun):
            yield name, stock.form


def _kinds(_: click.Context, begun: str) -> Iterator[tuple[str, str]]:
    from wiretrack.tasks.describe.entering import BY_NOUN

    yield from ((noun, "") for noun in BY_NOUN if noun.startswith(begun))


def _fields(ctx: click.Context, begun: str) -> Iterator[tuple[str, str]]:
    """Yield fields as ``NAME=``, or after the sign the words that one may have.

    Bash takes the sign for a word of its own.
    """
    typed = [*(ctx.params.get("fields") or ())]
    name, sign, value = begun.partition("=")
    if sign and not name and typed:
        name, before = typed[-1], ""
    elif typed and typed[-1] == "=":
        name, sign, value, before = typed[-2], "=", begun, ""
    else:
        before = f"{name}="
    facts = _facts(ctx)
    if not sign:
        yield from ((f"{key}=", told) for key, (_, told) in facts.items() if key.startswith(begun))
    elif name in facts:
        for word in _allowed(facts[name][0]):
            if word.casefold().startswith(value.casefold()):
                yield f"{before}{word}", facts[name][0].title


def _facts(ctx: click.Context) -> dict[str, tuple[Kind, str]]:
    """Return the fields, each with its kind and meaning, of the records that are named so far."""
    from wiretrack.model.fields import flat_facts
    from wiretrack.model.parts import SiteFacts
    from wiretrack.model.source import TABLES

    classes = {of.__name__.lower(): of for of in TABLES}
    kind, what = ctx.params.get("kind"), ctx.params.get("what")
    if kind is None and what == "site":
        found: list[type] = [SiteFacts]
    else:
        kinds = [kind] if kind else _kinds_of(ctx, str(what or ""))
        found = [classes[each] for each in kinds if each in classes] or [*classes.values()]
    return {f.key: (f.kind, f.label) for of in found for f in flat_facts(of) if f.key != "id"}


def _kinds_of(ctx: click.Context, what: str) -> list[str]:
    """Return what kinds of records are called so."""
    from wiretrack.store.lists import suggestions

    kinds = (*_PLACES,) if "/" in what else (*_THINGS, "instrument")
    words = {what.casefold(), what.replace("-", "").casefold()}
    return [
        kind
        for kind in kinds
        for word, _ in suggestions(_registry(ctx), what, [kind])
        if {word.casefold(), word.replace("-", "").casefold()} & words
    ]


def _allowed(kind: Kind) -> Iterator[str]:
    from wiretrack.electrical.colours import colour_codes
    from wiretrack.electrical.limits import METALS
    from wiretrack.model import kinds as k

    known: Any = {k.COLOUR: colour_codes(), k.METAL: METALS}.get(kind, kind.words)
    yield from map(str, ("true", "false") if kind.is_truth else known)


_OTHERS: dict[str, Words] = {"stock": _stocks, "fields": _fields, "kind": _kinds}
