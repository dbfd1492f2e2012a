"""Calculators: arithmetic at counter or bench that needs no ticket. Each subject is a pure module here with a form."""
