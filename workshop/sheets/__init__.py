"""Sheets that somebody brings in: looked at, imported and taken back in steps, so that a long one stops nothing."""
