"""The shop on its own network by TLS: its authority, its certificate, its name, and the page for a new tablet."""
