"""Pages, figures, wording and the sludgebook command."""
