# SPDX-License-Identifier: MIT
"""The look of a printable page: on a phone, on a screen, on A4 and on Letter."""

from __future__ import annotations

import re

# {foot} becomes the text at the foot of each sheet.
_SHEET = """
* {{ box-sizing: border-box; }}
html {{ -webkit-text-size-adjust: 100%; }}
body {{ font: 11pt/1.35 "Arimo", "Liberation Sans", Arial, sans-serif; color: #000;
  background: #fff; margin: 0 auto; padding: 1rem; max-width: 62rem;
  overflow-wrap: break-word; }}
h1 {{ font-size: 1.5em; margin: 0 0 .4em; }}
h2 {{ font-size: 1.2em; margin: 1.6em 0 .4em; border-bottom: .15em solid #000; }}
h3 {{ font-size: 1.05em; margin: 1.3em 0 .3em; border-bottom: .08em solid #000; }}
h4 {{ font-size: 1em; margin: 1em 0 .2em; }}
nav ul {{ list-style: none; padding: 0; }} nav .level2 {{ padding-left: 1.2em; }}
summary {{ padding: .5em 0; font-weight: bold; cursor: pointer; }}
nav a {{ display: inline-block; padding: .25em 0; color: #063b82; }}
.back {{ margin-bottom: 1em; }} .back a {{ line-height: 44px; padding: 0 1em 0 0; }}
p {{ margin: .4em 0; }}
ul {{ margin: .4em 0; padding-left: 1.3em; }}
table {{ border-collapse: collapse; width: 100%; margin: .4em 0 .8em; font-size: .88em; }}
th, td {{ text-align: left; vertical-align: top; padding: .15em .6em .15em 0;
  border-bottom: .06em solid #888; }}
thead th {{ border-bottom: .12em solid #000; }}
.short {{ white-space: nowrap; }}
.facts th {{ font-weight: normal; color: #333; width: 32%; }}
.fail {{ font-weight: bold; color: #900; }} .doubt {{ font-weight: bold; color: #6b4200; }}
.gone {{ text-decoration: line-through; color: #444; }} .strong {{ font-weight: bold; }}
.dim {{ color: #444; font-size: .92em; }}
.large {{ font-size: 1.6em; font-weight: bold; border: .12em solid #900; color: #900;
  padding: .3em .5em; }}
.caution {{ border-left: .4em solid #b35900; padding: .2em .6em; background: #fff6d6; }}
ul.caution {{ padding-left: 1.7em; }}
.blank {{ display: block; min-width: 11em; min-height: 1.7em; border-bottom: .1em dotted #000;
  color: #666; font-size: .75em; font-style: italic; line-height: 2.2; }}
.rows .ticks {{ white-space: nowrap; }}
.tick {{ display: inline-block; white-space: nowrap; margin-right: .9em; }}
.tick::before {{ content: ""; display: inline-block; width: .85em; height: .85em;
  border: .1em solid #000; margin-right: .35em; vertical-align: -.1em; }}
@media screen and (max-width: 45rem) {{
  body {{ padding: .6rem; }}
  nav li a {{ padding: .85em 0; }} summary {{ padding: .85em 0; }}
  .rows thead {{ position: absolute; clip-path: inset(50%); width: 1px; height: 1px;
    overflow: hidden; }}
  .rows tr {{ display: block; border-bottom: .12em solid #000; padding: .3em 0; }}
  .rows td {{ display: grid; grid-template-columns: 8.2em 1fr; border: 0; padding: .05em 0; }}
  .rows td::before {{ content: attr(data-head); color: #333; padding-right: .6em; }}
  .rows td:empty {{ display: none; }}
  .rows .short {{ white-space: normal; }}
  .facts th {{ width: 38%; }}
}}
@page {{ margin: 14mm 14mm 18mm;
  @bottom-left {{ content: "{foot}"; font: 7.5pt Arial, sans-serif; }}
  @bottom-right {{ content: counter(page) " / " counter(pages); font: 7.5pt Arial, sans-serif; }} }}
@media print {{
  nav {{ display: none; }}
  body {{ font-size: 9pt; padding: 0; max-width: none; }}
  h1, h2, h3, h4 {{ break-after: avoid; }}
  .sheet {{ break-before: page; }}
  thead {{ display: table-header-group; }}
  tr, .caution, .large {{ break-inside: avoid; }}
  .caution {{ background: #fff; border: .1em solid #b35900; border-left-width: .4em; }}
}}
"""


def style_sheet(foot: str) -> str:
    """Return the style sheet of a page with `foot` at the foot of each printed sheet."""
    return _SHEET.format(foot=_css_text(foot))


def _css_text(text: str) -> str:
    r"""Return any text as the inside of a CSS string that no character can leave.

    >>> _css_text('a"</style>')
    'a\\22 \\3c \\2f style\\3e '
    """
    return re.sub(r"[^A-Za-z0-9 .,:–-]", lambda found: f"\\{ord(found[0]):x} ", text)
