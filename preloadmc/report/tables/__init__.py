"""Results as tables for spreadsheets and other programs."""
