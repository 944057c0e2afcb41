"""Results as text, figures, JSON and report folders."""
