"""What the practice audit says: frozen results only. START HERE: audit_result.py."""
