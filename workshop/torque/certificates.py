"""Certificates of torque tools, only to be downloaded: files of somebody else's."""

from __future__ import annotations

from typing import IO

from django.core.exceptions import ValidationError

from workshop.tickets.attached import AttachedFile, WhatIsTaken, read_attached, store_attached

Certificate = AttachedFile


class CertificateRefused(ValidationError):
    """That a file is no certificate we take; the message says why and what to do."""


_TAKEN = WhatIsTaken("certificate", "A certificate", "Scan it at a coarser grain.", CertificateRefused)


def read_certificate(file: IO[bytes], *, name: str = "The file") -> Certificate:
    """Look at an uploaded certificate. Raises CertificateRefused as `read_attached` says."""
    return read_attached(file, name=name, taken=_TAKEN)


def store_certificate(certificate: Certificate) -> str:
    """Keep the bytes; returns their name in the shop's files."""
    return store_attached(certificate, folder="certificates")
