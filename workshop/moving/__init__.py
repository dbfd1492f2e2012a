"""Moving in and out: what a shop brings along as files, and everything it can take away as files."""
