# SPDX-License-Identifier: MIT
"""``manual``: the manual, a topic at a time."""

from __future__ import annotations

from functools import partial

import click

from wiretrack.cli.command import Command
from wiretrack.cli.options import Answer, nothing, prints
from wiretrack.cli.output import console, table, write


@click.command(cls=Command)
@click.argument("topic", required=False)
@prints
def manual(db: object, topic: str | None) -> Answer:
    """Show a TOPIC of the manual, or which topics it has.

    The same pages are on the phone under /manual, and in a binder.
    """
    from wiretrack.manual import topic as found
    from wiretrack.manual import topics

    if topic is None:
        rows = [(each.topic, each.title) for each in topics().values()]
        told = partial(table, ("topic", "what it is about"), rows)
        return Answer([*topics().values()], told, then=("topic",))
    page = found(topic)

    def shown() -> None:
        target = console()
        if not target.is_terminal:
            click.echo(page.text, nl=False)
            return
        from rich.console import Console
        from rich.markdown import Markdown

        paper = Console(width=target.width, force_terminal=True)
        with paper.capture() as held:
            paper.print(Markdown(page.text, hyperlinks=False))
        write(held.get().splitlines())

    return Answer(page, shown, then=nothing)
