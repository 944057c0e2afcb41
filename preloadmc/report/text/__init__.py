"""Results as text."""
