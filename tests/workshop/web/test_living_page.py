"""The page of all components: there in DEBUG, within the policy; without DEBUG it has no address."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.template import Context, Template
from django.test import Client
from django.urls import NoReverseMatch, reverse

from workshop import urls
from workshop.web.chips import CHIPS
from workshop.web.living_page import living_page
from workshop.web.templatetags.components import register

urlpatterns = [*urls.urlpatterns, *living_page(debug=True)]


def test_without_debug_it_has_no_address() -> None:
    assert not settings.DEBUG
    assert living_page(debug=False) == []
    with pytest.raises(NoReverseMatch):
        reverse("components")


@pytest.mark.django_db
@pytest.mark.urls(__name__)
def test_it_shows_every_component_within_the_policy(client: Client) -> None:
    page = client.get(reverse("components"))
    assert page.status_code == 200
    assert not re.search(r"<style|<script(?![^>]* src=)| style=| on[a-z]+=", page.text)
    source = (Path(settings.BASE_DIR) / "templates/components/_patterns.html").read_text(encoding="utf-8")
    for name in ("field", "reading", "form_errors", "spec_value", "caution", "empty", "pagination"):
        assert f"components/{name}.html" in source
    for name in register.tags:
        assert f"{{% {name} " in source
    assert "Enter this." in page.text
    assert 'class="pagination' in page.text
    assert "The look, and the parts to build a page from" in page.text
    for state in CHIPS:
        assert f"chip--{state}" in page.text


def test_every_tag_with_a_body_is_documented() -> None:
    words = (Path(settings.BASE_DIR) / "static/README.md").read_text(encoding="utf-8")
    assert len(register.tags) >= 4
    assert [name for name in register.tags if f"| `{{% {name} " not in words] == []


def test_what_is_put_into_a_component_is_escaped() -> None:
    shown = Template(
        "{% facts %}{% fact said %}{{ said }}{% endfact %}{% fact 'Whole' wide=True %}<b>{{ said }}</b>{% endfact %}"
        "{% endfacts %}{% table said slips=False %}{{ said }}{% endtable %}"
        "{% button_row %}{{ said }}{% endbutton_row %}"
    ).render(Context({"said": '<i>"'}))
    said = "&lt;i&gt;&quot;"
    assert shown == (
        f'<dl class="slip"><div><dt>{said}</dt><dd>{said}</dd></div>'
        f'<div class="slip__wide"><dt>Whole</dt><dd><b>{said}</b></dd></div></dl>'
        f'<div class="table-scroll" role="group" tabindex="0" aria-label="{said}">'
        f'<table class="data">{said}</table></div>'
        f'<div class="button-row">{said}</div>'
    )
