"""Results as figures; nothing else imports matplotlib."""
