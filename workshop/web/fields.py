"""Form fields for what is typed: a value in any unit of its dimension, given back in SI, and a plain number."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from diagnosis.judging import slip_out_of_range
from specs.numbers import TWO_READINGS, NumberRefused, read_number
from specs.typed_measures import beside_unit, number_beside, read_depth
from specs.units import NumberUnclear, UnitError, parse, show
from workshop.staff.models import Shop
from workshop.web.converters import MOST_DIGITS, key_from


class QuantityField(forms.CharField):
    """A value with a unit. "82 psi", "5.6 bar" or "82" (the unit beside the field) all give pascals.

    What was typed stays in the field when it is refused. `low_si` and `high_si` bound what is plausible.
    """

    def __init__(
        self,
        *,
        dimension: str,
        unit: str,
        low_si: float | None = None,
        high_si: float | None = None,
        why_range: str = "",
        **kwargs: Any,
    ) -> None:
        kwargs.setdefault("max_length", 40)
        super().__init__(**kwargs)
        self.dimension, self.unit = dimension, unit
        self.low_si, self.high_si, self.why_range = low_si, high_si, why_range
        self.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off"})

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if text in self.empty_values:
            return None
        try:
            magnitude_si = parse(text, self.dimension, self.unit)
        except UnitError as error:
            raise forms.ValidationError(str(error), code="unit") from error
        too_low = self.low_si is not None and magnitude_si < self.low_si
        too_high = self.high_si is not None and magnitude_si > self.high_si
        if too_low or too_high:
            raise forms.ValidationError(self._out_of_range(magnitude_si), code="range")
        return magnitude_si

    def _out_of_range(self, magnitude_si: float) -> str:
        low, high = (
            None if bound is None else show(bound, self.dimension, self.unit) for bound in (self.low_si, self.high_si)
        )
        if low is not None and high is not None:
            reason = f"Enter a value from {low} to {high}."
        elif low is not None:
            reason = f"Enter {low} or more."
        else:
            reason = f"Enter {high} or less."
        slip = slip_out_of_range(magnitude_si, self.low_si, self.high_si, self.dimension, self.unit)
        return " ".join(filter(None, (reason, self.why_range, slip)))

    def prepare_value(self, value: Any) -> Any:
        """SI floats are shown in the field's unit, which stands beside it; typed text as it was typed, without that."""
        if isinstance(value, float | int) and not isinstance(value, bool):
            return number_beside(float(value), self.dimension, self.unit)
        return beside_unit(value, self.unit) if isinstance(value, str) else value


class DepthField(forms.CharField):
    """A sag as a depth ("26 mm") or a share of the travel ("20 %"), given back as `Depth`.

    A bare number takes the unit beside the field. Metres are shown in `length_unit`.
    """

    def __init__(
        self, *, unit: str, length_unit: str, deepest_m: float = 1.0, may_be_zero: bool = False, **kwargs: Any
    ) -> None:
        kwargs.setdefault("max_length", 40)
        super().__init__(**kwargs)
        self.unit, self.length_unit, self.deepest_m, self.may_be_zero = unit, length_unit, deepest_m, may_be_zero
        self.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off"})

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if text in self.empty_values:
            return None
        try:
            depth = read_depth(text, unit=self.unit, length_unit=self.length_unit)
        except UnitError as error:
            raise forms.ValidationError(
                str(error), code="number" if isinstance(error, NumberUnclear) else "unit"
            ) from None
        share, deepest = (depth.share, 1.0) if depth.share is not None else (depth.depth_m or 0.0, self.deepest_m)
        if share < 0 or (share == 0 and not self.may_be_zero) or share >= deepest:
            at_least = "0 or more" if self.may_be_zero else "more than 0"
            whole = "100 %" if depth.share is not None else show(self.deepest_m, "length", "mm")
            raise forms.ValidationError(f"Enter {at_least} and less than {whole}: no fork sags further.", code="range")
        return depth

    def prepare_value(self, value: Any) -> Any:
        """Metres as a number beside the field's unit, typed text as it was typed, without that unit."""
        if isinstance(value, float | int) and not isinstance(value, bool):
            return number_beside(float(value), "length", self.length_unit)
        return beside_unit(value, self.unit) if isinstance(value, str) else value


class KeptChoiceField(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]  # of any records
    """Records by their keys. A key larger than any is refused as one that is not offered."""

    def clean(self, value: Any) -> Any:
        for key in value or ():
            if len(str(key)) > MOST_DIGITS or (str(key).isdecimal() and key_from(key) is None):
                raise forms.ValidationError(
                    self.error_messages["invalid_choice"], code="invalid_choice", params={"value": str(key)[:20]}
                )
        return super().clean(value)


def quantity_field(shop: Shop, dimension: str, **kwargs: Any) -> QuantityField:
    """A QuantityField in the unit in which this shop reads the dimension."""
    return QuantityField(dimension=dimension, unit=shop.unit_for(dimension), **kwargs)


class DecimalNumberField(forms.DecimalField):
    """A number as people type it (specs.numbers), for money and amounts; one that could be two is asked."""

    widget = forms.TextInput

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "decimal", "autocomplete": "off", **super().widget_attrs(widget)}

    def to_python(self, value: Any) -> Any:
        if value in self.empty_values or not isinstance(value, str):
            return super().to_python(value)
        return _number(self, value, 2 if self.decimal_places is None else self.decimal_places)


class WholeNumberField(forms.IntegerField):
    """A whole number as people type it: "1,440" as "1440"."""

    widget = forms.TextInput

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "numeric", "autocomplete": "off", **super().widget_attrs(widget)}

    def to_python(self, value: Any) -> int | None:
        if value in self.empty_values or not isinstance(value, str):
            return super().to_python(value)
        number = _number(self, value, 0)
        if number is None:
            return None
        if number != int(number):
            raise forms.ValidationError(self.error_messages["invalid"], code="invalid")
        return int(number)


class FloatNumberField(forms.FloatField):
    """A number as people type it, as a float."""

    widget = forms.TextInput

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "decimal", "autocomplete": "off", **super().widget_attrs(widget)}

    def to_python(self, value: Any) -> Any:
        if value in self.empty_values or not isinstance(value, str):
            return super().to_python(value)
        number = _number(self, value, 2)
        return None if number is None else float(number)


def _number(field: forms.Field, typed: str, decimals: int) -> Decimal | None:
    """What a field's text says; blanks say nothing, as an empty field does."""
    if not typed.strip():
        return None
    try:
        return read_number(typed, decimals=decimals)
    except NumberRefused as refused:
        said = str(refused) if refused.code == TWO_READINGS else str(field.error_messages["invalid"])
        raise forms.ValidationError(said, code=refused.code) from None
