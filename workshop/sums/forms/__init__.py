"""The forms of the quick sums: what is asked, in which units, and which field an impossible value belongs to."""
