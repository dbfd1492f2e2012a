"""The page that shows every component in its states, for who builds screens; it has an address in DEBUG only."""

from __future__ import annotations

from pathlib import Path

from django import forms
from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import URLPattern, path

from workshop.web.chips import CHIPS
from workshop.web.icons import ICONS


class ShownForm(forms.Form):
    """A field of each kind; empty, all of it has to be put right but the tick."""

    name = forms.CharField(help_text="As it is to stand on papers.")
    pressure = forms.DecimalField(help_text="With the shock pump on.")
    kind = forms.ChoiceField(choices=[("fork", "Fork"), ("shock", "Rear shock")], widget=forms.RadioSelect)
    words = forms.CharField(widget=forms.Textarea)
    again = forms.BooleanField(required=False, label="Ask again next year")


@login_not_required
def components(request: HttpRequest) -> HttpResponse:
    """Everything a page is built from; made-up values, nothing of the shop is read."""
    shown = {
        "area": "bench" if request.GET.get("area") == "bench" else "counter",
        "form": ShownForm(auto_id="well_%s"),
        "bad_form": ShownForm({}),
        "icons": sorted(ICONS),
        "states": list(CHIPS),
        "page": Paginator(range(60), 20).get_page(2),
        "words": (Path(settings.BASE_DIR) / "static" / "README.md").read_text(encoding="utf-8"),
    }
    return render(request, "components/_patterns.html", shown)


def living_page(*, debug: bool) -> list[URLPattern]:
    """Its address where DEBUG is on, none otherwise."""
    return [path("components/", components, name="components")] if debug else []
