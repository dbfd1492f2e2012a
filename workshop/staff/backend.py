"""Sign-in that fetches the member of staff, their shop and their second factor together."""

from __future__ import annotations

from django.contrib.auth.backends import ModelBackend

from workshop.staff.models import User


class StaffBackend(ModelBackend):
    """Django's backend, with the shop and the second factor joined: every page asks for them."""

    def get_user(self, user_id: int) -> User | None:
        user = User.objects.select_related("shop", "second_factor").filter(pk=user_id).first()
        return user if user is not None and self.user_can_authenticate(user) else None
