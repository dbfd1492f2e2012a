"""A form that would push promises names them first, and goes on once somebody ticks that they know."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django import forms

from workshop.promise.squeezed import Pushed, pushed_in_words, pushed_key
from workshop.web.meant import is_meant

BOX = "pushed_known"
_LABEL = "Book it all the same, knowing whom it pushes"


def is_known(form: forms.Form, field: str, day: dt.date, pushed: Sequence[Pushed]) -> bool:
    """Whether nothing is pushed, or the box for just this is ticked; else the form names it beside its `field`."""
    if not pushed:
        return True
    known = is_meant(form, BOX, value=pushed_key(day, pushed), label=_LABEL, after=field)
    if not known:
        form.add_error(field, f"{pushed_in_words(pushed)} Choose another day, or tick that you book it all the same.")
    return known


def keep_tick(form: forms.Form, field: str) -> None:
    """Where something else is refused, a box that was ticked stays; whether it holds is asked once all is well."""
    if sent := form.data.get(form.add_prefix(BOX)):
        is_meant(form, BOX, value=str(sent)[:500], label=_LABEL, after=field)
