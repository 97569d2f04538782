"""Papers for the client and the file: what they say (contents), how they are drawn (PDF) and as plain text."""
