"""Forms of findings: what was seen that no step asks for, and what answers a finding."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Any

from django import forms

from workshop.tickets.condition import PLACES
from workshop.tickets.models import FindingAnswer, FreeFinding
from workshop.work.findings import AfterIt, Finding

How = FindingAnswer.How


class FreeFindingForm(forms.Form):
    """What was seen, where and how bad. `step` is empty where it was seen at none."""

    client_id = forms.UUIDField(widget=forms.HiddenInput(attrs={"data-client-id": "", "autocomplete": "off"}))
    place = forms.CharField(
        label="Where",
        max_length=80,
        widget=forms.TextInput(attrs={"list": "finding-places", "autocomplete": "off"}),
        error_messages={"required": "Say where it is."},
    )
    text = forms.CharField(
        label="Damage or wear",
        max_length=300,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Say what it is."},
    )
    kind = forms.ChoiceField(
        label="How bad is it?",
        choices=FreeFinding.Kind.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Say how bad it is: by the way, or dangerous."},
    )
    places = PLACES

    def __init__(self, data: Any = None) -> None:
        super().__init__(data, initial={"client_id": uuid.uuid4()}, auto_id="seen-%s")


class FindingAnswerForm(forms.Form):
    """What answers a finding; which of the three it is is the button that is pressed."""

    client_id = forms.UUIDField(widget=forms.HiddenInput(attrs={"data-client-id": "", "autocomplete": "off"}))
    put_right_by = forms.ChoiceField(label="Put right by", required=False)
    words = forms.CharField(
        label="Words for the report, or the reason",
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    how = forms.ChoiceField(choices=How.choices, widget=forms.HiddenInput)

    def __init__(self, finding: Finding, after: Sequence[AfterIt], data: Any = None) -> None:
        super().__init__(data, initial={"client_id": uuid.uuid4()}, auto_id=f"{finding.token}-%s")
        self.has_choice = bool(after)
        field = self.fields["put_right_by"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101  as declared
        field.choices = [("", "Choose a step or a part"), *((one.value, one.words) for one in after)]
        if not after:
            field.widget = forms.HiddenInput()


class FindingShown:
    """A finding on a page, with the form that answers it; None where nobody may."""

    def __init__(self, finding: Finding, form: FindingAnswerForm | None) -> None:
        self.finding, self.form = finding, form
