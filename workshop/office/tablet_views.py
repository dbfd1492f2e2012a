"""How a further tablet, phone or computer gets into the shop: what the terminal says, for who does not see it."""

from __future__ import annotations

import segno
from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from workshop.shop_network.served import Served
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only


@require_GET
@owner_only
def tablets(request: ShopRequest) -> HttpResponse:
    network: Served | None = settings.SHOP_NETWORK
    context = {} if network is None else {"network": network, "qr": _code(network.page_address)}
    return render(request, "office/tablets.html", context)


def _code(address: str) -> str:
    return str(segno.make(address, error="m", micro=False).svg_inline(scale=4, border=2, omitsize=True))
