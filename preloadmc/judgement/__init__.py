"""What several questions speak of: outcomes, estimates, misses, words."""
