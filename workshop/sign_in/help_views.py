"""How the shop works, for somebody new to it."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from workshop.staff.roles import Role
from workshop.web.glossary import glossary
from workshop.web.requests import ShopRequest

_PARTS = ("staff/_how_counter.html", "staff/_how_mechanic.html", "staff/_how_owner.html")  # in the order of roles
# Places, buttons and sentences say themselves what they are.
_EXPLAINED = ("States and outcomes", "Things", "Documents and messages")


@require_GET
def how_it_works(request: ShopRequest) -> HttpResponse:
    """A page for each role, one's own open; then the words."""
    own = request.user.roles.split()
    parts = [(role.value, role.label, part, role.value in own) for role, part in zip(Role, _PARTS, strict=True)]
    words = {heading: glossary()[heading] for heading in _EXPLAINED}
    return render(request, "staff/how_it_works.html", {"parts": parts, "words": words})
