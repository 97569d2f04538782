"""Figure builders: data in, Figure and alternative text out."""
