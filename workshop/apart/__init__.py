"""Work that could take too much time or memory, done in a process of its own and within limits."""
