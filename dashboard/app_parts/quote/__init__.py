"""Parts of "Price a job" and "Quoted and done". START HERE: quote_parts.py."""
