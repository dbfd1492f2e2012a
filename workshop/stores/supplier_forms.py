"""Forms of suppliers and of what each asks for a part."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from workshop.staff.models import Shop
from workshop.stock.models import LONGEST_LEAD_DAYS, StockItem
from workshop.stock.receiving import TIMES_THE_USUAL
from workshop.stock.supplier_models import CURRENCY, Supplier, SupplierPart
from workshop.stock.suppliers import SupplierData
from workshop.stores.forms import _amount
from workshop.tickets.models.part_line import PRICE_DECIMALS
from workshop.web.fields import WholeNumberField
from workshop.web.meant import is_meant
from workshop.web.number_words import figures, plain_price, price_figures


class SupplierForm(forms.Form):
    """Who it is and on what terms."""

    name = forms.CharField(max_length=80, error_messages={"required": "Enter the supplier’s name."})
    account = forms.CharField(max_length=40, required=False, label="Account number", help_text="Ours there.")
    address = forms.CharField(max_length=400, required=False, widget=forms.Textarea(attrs={"rows": 3}))
    email = forms.EmailField(required=False, label="Email", help_text="Where orders go.")
    terms = forms.CharField(max_length=120, required=False, help_text="Such as “30 days net, free from 150”.")
    currency = forms.CharField(max_length=3, required=False, help_text="Of its prices; empty is the shop’s own.")
    usual_days = WholeNumberField(
        label="Usual days to deliver",
        required=False,
        min_value=0,
        max_value=LONGEST_LEAD_DAYS,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        help_text="Until its deliveries say it.",
        error_messages={
            "invalid": "Enter whole days, for example 3.",
            "min_value": "Days to deliver cannot be less than 0.",
            "max_value": f"Enter no more than {LONGEST_LEAD_DAYS} days.",
        },
    )

    @classmethod
    def of(cls, supplier: Supplier) -> SupplierForm:
        return cls(initial={name: getattr(supplier, name) for name in cls.base_fields})

    def clean_currency(self) -> str:
        typed: str = self.cleaned_data["currency"].strip().upper()
        if typed:
            CURRENCY(typed)
        return typed

    @property
    def supplier_data(self) -> SupplierData:
        """The cleaned values. The form is valid."""
        return SupplierData(**self.cleaned_data)


class OfferForm(forms.Form):
    """A part as one supplier sells it."""

    supplier = forms.ModelChoiceField(Supplier.objects.none(), empty_label="Choose a supplier")
    number = forms.CharField(max_length=60, required=False, label="Its number there")
    pack = _amount("Bought by", help_text="Pieces in a pack, or ml in a bottle.")
    price = _amount("Price of a pack", least="0", places=PRICE_DECIMALS, required=False)

    def __init__(self, shop: Shop, item: StockItem, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.item = item
        self.fields["supplier"].queryset = shop.suppliers.filter(archived_at=None)  # type: ignore[attr-defined]
        self.fields["pack"].unit = item.part.get_measure_display()  # type: ignore[attr-defined]

    @classmethod
    def of(cls, shop: Shop, item: StockItem, offer: SupplierPart | None) -> OfferForm:
        if offer is None:
            return cls(shop, item, initial={"pack": figures(item.part.bottle_ml or Decimal(1))})
        values = {
            "supplier": offer.supplier, "number": offer.number, "pack": figures(offer.pack),
            "price": plain_price(offer.price),
        }  # fmt: skip
        return cls(shop, item, initial=values)

    def clean(self) -> dict[str, Any]:
        """A price far from what the part costs is asked about once; another currency has nothing to be far from."""
        data: dict[str, Any] = super().clean() or self.cleaned_data
        price, pack, supplier, cost = data.get("price"), data.get("pack"), data.get("supplier"), self.item.cost
        if not (price and pack and supplier and cost) or supplier.currency:
            return data
        each = price / pack
        far = not cost / TIMES_THE_USUAL < each < cost * TIMES_THE_USUAL
        if far and not is_meant(self, "meant", value=str(price), label=f"{plain_price(price)} is meant", after="price"):
            told = price_figures(each.quantize(Decimal("0.0001")))
            self.add_error("price", f"That is {told} each, and it costs {price_figures(cost)} now. Look at the comma.")
        return data
