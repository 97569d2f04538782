"""What is computed from the feature tables, each answer with an interval or a refusal."""
