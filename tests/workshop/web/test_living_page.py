"""The page of all components: there in DEBUG, within the policy; without DEBUG it has no address."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from django.urls import NoReverseMatch, reverse

from workshop import urls
from workshop.web.living_page import living_page

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
    assert "This field is required" in page.text
    assert 'class="pagination' in page.text
