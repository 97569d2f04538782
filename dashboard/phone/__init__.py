"""The phone beside the machine: a page of its own that works without signal, and what it asks of the server.

START HERE: routes.py (what is asked and answered) → page/app.js (the page).
"""
