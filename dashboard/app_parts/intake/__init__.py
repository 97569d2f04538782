"""Parts of "Intake". START HERE: intake_parts.py."""
