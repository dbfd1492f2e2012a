"""What is true of a fork whoever owns it: units, specifications and physics."""
