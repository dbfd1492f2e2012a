"""What is looked at before the shop is served, upgraded, backed up or restored, and by `check_shop` at any time."""
