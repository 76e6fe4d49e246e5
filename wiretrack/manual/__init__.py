# SPDX-License-Identifier: MIT
"""The manual: a file a topic, named in the order of the work, shown by every face."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, Hint
from wiretrack.late import dataclass
from wiretrack.plain import near

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

HOME = Path(__file__).parent
PICTURES = HOME / "pictures"
_SHORT = 20  # characters that a line of the narrowest phone has room for
_TO_TOPIC = re.compile(r'href="\d\d-([a-z]+)\.md')


@dataclass(frozen=True)
class Topic:
    """A topic of the manual: its text is Markdown."""

    topic: str
    title: str
    text: str


@cache
def topics() -> Mapping[str, Topic]:
    """Return the topics by name, in the order of the work.

    >>> topics()["ringout"].title
    'Ring out a pull'
    """
    texts = {file.stem[3:]: file.read_text("utf-8") for file in sorted(HOME.glob("[0-9]*.md"))}
    return {
        name: Topic(name, text.partition("\n")[0].removeprefix("# "), text)
        for name, text in texts.items()
    }


def topic(name: str) -> Topic:
    """Return a topic.

    Raises
    ------
    BadInputError
        If the manual has none of this name; near ones are named.
    """
    if name in topics():
        return topics()[name]
    close = near(name, topics())
    meant = f"Close to it: {', '.join(close)}." if close else ""
    hint = Hint(meant, job="topics")
    raise BadInputError(f"The manual has no topic '{name}'.", hint, value=name)


def html(shown: Topic, ending: str = "") -> str:
    """Return a topic as HTML; its links to others end in `ending`, and commands say where to type.

    Pictures lie in ``pictures/`` beside it.
    """
    from markdown_it import MarkdownIt

    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    reader.add_render_rule("fence", _typed)
    reader.add_render_rule("code_inline", _words)
    return _TO_TOPIC.sub(rf'href="\1{ending}', reader.render(shown.text))


def _typed(renderer: Any, tokens: Sequence[Any], at: int, *_: object) -> str:
    from markupsafe import escape

    block = tokens[at]
    where = "<p>On the laptop:</p>\n" if block.info in ("console", "sh", "text") else ""
    return f'{where}<pre tabindex="0">{escape(block.content)}</pre>\n'


def _words(renderer: Any, tokens: Sequence[Any], at: int, *_: object) -> str:
    """Keep the hyphens of a short word, an option perhaps, from ending a line."""
    from markupsafe import escape

    words = (
        f'<span class="word">{escape(word)}</span>'
        if "-" in word and len(word) <= _SHORT
        else escape(word)
        for word in tokens[at].content.split(" ")
    )
    return f"<code>{' '.join(map(str, words))}</code>"
