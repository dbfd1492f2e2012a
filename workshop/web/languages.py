"""In which language something for a customer is written, and what a page says of it."""

from __future__ import annotations

from contextlib import AbstractContextManager

from django.conf import settings
from django.utils import translation
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext


def known_language(code: str) -> str:
    """The language as it was chosen, where the app has it; else the shop's."""
    return code if code in dict(settings.LANGUAGES) else str(settings.LANGUAGE_CODE)


def languages_to_choose() -> list[tuple[str, str]]:
    """Codes and names, the shop's first as an empty code; nothing where there is but one."""
    others = [(code, str(name)) for code, name in settings.LANGUAGES if code != settings.LANGUAGE_CODE]
    return [("", "The shop’s"), *others] if others else []


def speaking(code: str) -> AbstractContextManager[None]:
    """Inside, sentences are made in this language; in the shop's where the app does not have it."""
    return translation.override(known_language(code))


def page_words() -> SafeString:
    """What stands round the numbers in “Page 1 of 3”, for a style sheet that counts; one element's attributes."""
    before, _, rest = gettext("Page %(page)s of %(pages)s").partition("%(page)s")
    between, _, after = rest.partition("%(pages)s")
    words = (("first", before), ("between", between), ("last", after))
    return format_html_join(" ", 'data-page-{}="{}"', words)


def language_written() -> str:
    """The code for `lang` of what is written now."""
    code = translation.get_language() or str(settings.LANGUAGE_CODE)
    # The shop's English is of no country in particular.
    return code.partition("-")[0] if code == settings.LANGUAGE_CODE else code


def direction_written() -> SafeString:
    """` dir="rtl"` where it is read from right to left; empty where it is not."""
    return format_html(' dir="{}"', "rtl") if translation.get_language_bidi() else SafeString("")
