"""The question of many joints at once: each row of a register judged, by many workers."""
