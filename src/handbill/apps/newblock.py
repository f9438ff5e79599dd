"""A block to start from. Enters: its name; leaves: the five files of a small block that compiles, explained.

It holds one of what first blocks need: a text, copy, a button, a choice, measures, a word, a phone rule.
"""

from __future__ import annotations


def block_files(name: str) -> dict[str, str]:
    """The files of a block called `name`, by file name."""
    return {file: text.replace("NAME", name) for file, text in FILES.items()}


FILES = {
    "block.yaml": """\
# What an author can write in a section of this block. `handbill blocks show NAME` prints it.
handbill: 1
block: NAME
about: Say in a line what a section of this block is.
use: Say when to use it, and when not.
heading: title  # the field that is the section's heading
fields:
  title: {type: text, required: true, most: 80}
  copy: {type: copy, most: 400, about: "A few sentences; Markdown's emphasis, links and lists."}
  button: {type: button}
  look: {type: choice, options: [plain, card], default: plain, about: "Bare, or on a card of its own."}
# Sizes in px, or var(--name) of the house style. A brand can set others under `blocks:` in its brand.yaml.
measures:
  above: var(--section)
  below: var(--section)
  inset: {desktop: 28, phone: 20}
  title-gap: var(--step-3)
# Words that the block says by itself, in every language it is to be used in. A brand can have its own.
words:
  en: {aside: By the way}
  de: {aside: Nebenbei}
""",
    "block.html.j2": """\
{# One table, as mail readers need it. Classes only: the styles stand in block.css. #}
<table class="wide" width="100%"><tr><td class="frame">
<table class="wide body {{ look }}" width="100%"><tr><td class="inner {{ look }}">
<p class="aside">{{ word.aside }}</p>
{# handbill decides whether this is the mail's h1 #}
<h{{ level }} class="title">{{ title }}</h{{ level }}>
{% if copy %}
{# styled by .copy-p, .copy-a and so on #}
{{ copy|prose('copy') }}
{% endif %}
{% if button %}
<div class="button-space">{{ put_button(button, tone) }}</div>
{% endif %}
</td></tr></table>
</td></tr></table>
""",
    "block.css": """\
/* One class to a rule. Colours, type and space are the house style's, so that the block is at home in every
   shop and needs no rules for dark screens: each colour role has its dark colour. */
.wide { width: 100%; }
.frame { padding: var(--above) var(--side) var(--below) var(--side); }
.body.card { background-color: var(--card); border-radius: var(--corner-card); }
.inner { text-align: start; }
.inner.card { padding: var(--inset); }
.aside { --type: kicker; color: var(--accent); }
.title { --type: title; color: var(--title); padding-block-end: var(--title-gap); }
.copy-p { --type: text; color: var(--text); margin: 0 0 14px; }
.copy-a { color: var(--link); text-decoration: underline; }
.copy-ul { padding-inline-start: 22px; margin: 0 0 14px; }
.copy-ol { padding-inline-start: 22px; margin: 0 0 14px; }
.copy-li { --type: text; color: var(--text); padding-block-end: 4px; }
.button-space { padding-block-start: var(--step-3); }
/* What differs on phones. Measures and type that have a phone's size change by themselves. */
@media (--phone) {
  .aside { padding-block-end: 2px; }
}
""",
    "block.txt.j2": """\
{# The section in the plain-text mail. #}
{{ word.aside }}

{{ title }}

{{ copy }}

{{ say_button(button) }}
""",
    "sample.yaml": """\
# One filled section. `handbill blocks sheet` shows it, and it is the first test of the block.
block: NAME
look: card
title: A block of your own
copy: It has a heading, a few words with *emphasis* and [a link](/about), and one button.
button: {label: See what it can do, link: /about}
""",
}
