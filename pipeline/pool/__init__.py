"""Many firms' checked rows in one lake of Parquet files, built by DuckDB or by a Spark cluster from the same SQL.

START HERE: `lake.py` (the folder and what is in it), `add.py` (a book's rows go in, ids hidden), `build_pool.py` (the
build, firm by firm where nothing else changed), `engines.py` and `connect.py` (who runs the SQL), `translate.py`.
"""
