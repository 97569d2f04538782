"""A firm's own headings → the job log: proposed, confirmed by a person, applied. START HERE: propose.py."""
