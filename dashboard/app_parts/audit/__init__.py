"""Parts of "Practice audit". START HERE: audit_parts.py."""
