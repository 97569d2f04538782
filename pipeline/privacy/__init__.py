"""What must never be loaded: people's names, phones, e-mails, addresses."""
