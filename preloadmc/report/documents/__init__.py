"""Results as JSON and as a page."""
