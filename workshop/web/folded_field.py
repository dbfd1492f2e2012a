"""The column that text to be found by lives in."""

from __future__ import annotations

from typing import Any

from django.db import models


class FoldedTextField(models.TextField[str, str]):
    """Folded text, in the order of its code points on every database, so that an index finds what begins with it."""

    def db_parameters(self, connection: Any) -> dict[str, Any]:
        parameters = super().db_parameters(connection)
        if connection.vendor == "postgresql":
            parameters["collation"] = "C"
        return parameters
