"""The documented simulator: invented firms, houses, crews and their job logs."""
