"""One module per question a user asks."""
