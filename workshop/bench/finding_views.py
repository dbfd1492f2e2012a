"""Findings of a ticket: noting what no step asks for, and saying what answers one."""
