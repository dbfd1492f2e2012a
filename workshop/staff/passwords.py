"""What a password may not be, in the shop's own words. The rules are Django's."""

from __future__ import annotations

from typing import Any

from django.contrib.auth import password_validation as rules
from django.core.exceptions import ValidationError

_NAMES = {"username": "sign-in name", "last name": "family name"}


class UnlikeTheName(rules.UserAttributeSimilarityValidator):
    """Not the person's own name over again."""

    def validate(self, password: str, user: Any = None) -> None:
        try:
            super().validate(password, user)
        except ValidationError as refused:
            known = str((refused.params or {}).get("verbose_name", "name"))
            raise ValidationError(
                f"That is too much like your {_NAMES.get(known, known)}, which others know. Choose something else.",
                code=refused.code,
            ) from None

    def get_help_text(self) -> str:
        return "Nothing like your own name."


class UnlikeTheShop:
    """Not the name that stands above its door."""

    _like = rules.UserAttributeSimilarityValidator(user_attributes=["name"])

    def validate(self, password: str, user: Any = None) -> None:
        shop = getattr(user, "shop", None)
        try:
            self._like.validate(password, shop)
        except ValidationError:
            raise ValidationError(
                "That is too much like the shop’s name, which everybody knows. Choose something else.",
                code="like_the_shop",
            ) from None

    def get_help_text(self) -> str:
        return "Nothing like the shop’s name."


class LongEnough(rules.MinimumLengthValidator):
    """So many letters, digits and signs at least."""

    def get_error_message(self) -> str:
        return f"That is too short. Take {self.get_help_text()}"

    def get_help_text(self) -> str:
        return f"{self.min_length} letters, digits or signs at least; three or four words do well."


class NotAmongTheFirstGuessed(rules.CommonPasswordValidator):
    """None of the passwords that are tried first."""

    def get_error_message(self) -> str:
        return "That is among the passwords that are tried first. Choose something that nobody else would think of."

    def get_help_text(self) -> str:
        return "Not one that many people use."


class MoreThanBlanks:
    """Blanks alone are long enough, common to nobody's list, and typed by whoever leans on the keyboard."""

    def validate(self, password: str, user: Any = None) -> None:
        if not password.strip():
            raise ValidationError("Blanks alone are no password. Choose words, letters or digits.", code="blank")

    def get_help_text(self) -> str:
        return "More than blanks."
