"""Pages of the makers' manuals that a shop attached to a model, to be read beside its values."""
