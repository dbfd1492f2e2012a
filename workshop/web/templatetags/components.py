"""Components with a body: the markup that many pages repeat around their own. They decide nothing.

Each is listed in static/README.md and shown at /components/. What is put in is escaped as everywhere.
"""

from __future__ import annotations

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from workshop.web.glossary import meaning_of

register = template.Library()


@register.simple_block_tag
def button_row(content: SafeString, ends_form: bool = False) -> SafeString:
    """Buttons in a line; with `ends_form` as a form ends."""
    if ends_form:
        return format_html('<div class="form-actions">{}</div>', content)
    return format_html('<div class="button-row">{}</div>', content)


@register.simple_block_tag
def table(content: SafeString, about: str, slips: bool = True, whole: bool = False) -> SafeString:
    """A table named `about` that scrolls within itself, by keyboard too.

    On a phone its rows become slips of two lines, for which each cell has its `data-label`; `whole` ones are as long as
    their words, for what nothing else shows. Without `slips` they stay rows.
    """
    if whole:
        inner = format_html('<table class="data data--slips data--whole">{}</table>', content)
    elif slips:
        inner = format_html('<table class="data data--slips">{}</table>', content)
    else:
        inner = format_html('<table class="data">{}</table>', content)
    return format_html('<div class="table-scroll" role="group" tabindex="0" aria-label="{}">{}</div>', about, inner)


@register.simple_block_tag
def facts(content: SafeString) -> SafeString:
    """A list of facts, each a `fact`, in printed boxes."""
    return format_html('<dl class="slip">{}</dl>', content)


@register.simple_block_tag
def fact(content: SafeString, label: str, wide: bool = False) -> SafeString:
    """One fact of `facts`; a `wide` one has a row to itself."""
    if wide:
        return format_html('<div class="slip__wide"><dt>{}</dt><dd>{}</dd></div>', label, content)
    return format_html("<div><dt>{}</dt><dd>{}</dd></div>", label, content)


@register.simple_tag
def meaning(word: str) -> SafeString:
    """A “?” that opens what a word of the glossary means, in a sentence; works by keyboard and without a script.

    Raises KeyError for a word that the glossary does not have.
    """
    return format_html(
        '<details class="meaning"><summary><span aria-hidden="true">?</span><span class="visually-hidden">'
        "What “{}” means</span></summary><p>{}</p></details>",
        word,
        meaning_of(word),
    )
