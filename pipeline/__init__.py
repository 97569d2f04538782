"""Job logs in, one DuckDB file of core and feature tables out. Start reading at build.py."""
