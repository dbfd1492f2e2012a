"""Beginning a stock-take, and ending it."""

from __future__ import annotations

from django import forms


class StartForm(forms.Form):
    """Which shelves, and how they are counted."""

    shelf = forms.CharField(
        max_length=40,
        required=False,
        label="Shelves that begin with",
        help_text="Such as A or B2. Empty counts all of them.",
    )
    blind = forms.BooleanField(required=False, label="Blind", help_text="The sheet does not show what should be there.")
    by_two = forms.BooleanField(
        required=False, label="Counted by two", help_text="A count holds once a second person counted the same."
    )


class EndForm(forms.Form):
    """Why it differs, or why it is given up; asked for by the rules, where it is needed."""

    reason = forms.CharField(
        max_length=80, required=False, label="Why", help_text="Such as “small parts lost at the bench” or “not known”."
    )
