"""Several phone numbers of a customer, one a line."""

from __future__ import annotations

from django.core.exceptions import ValidationError

from workshop.web.folding import digits

FEWEST_DIGITS = 3
LONGEST_LINE = 60
MOST_LINES = 5


def phone_lines(text: str) -> str:
    """The lines without blanks and empty ones.

    Raises:
        ValidationError: beside `other_phones`, for a line without a number, a line too long, or too many of them.
    """
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    for line in lines:
        if len(digits(line)) < FEWEST_DIGITS:
            raise ValidationError({"other_phones": f"There is no phone number in “{line[:LONGEST_LINE]}”."})
        if len(line) > LONGEST_LINE:
            raise ValidationError({"other_phones": f"Keep each line to {LONGEST_LINE} characters."})
    if len(lines) > MOST_LINES:
        raise ValidationError({"other_phones": f"Enter {MOST_LINES} further numbers at most."})
    return "\n".join(lines)
