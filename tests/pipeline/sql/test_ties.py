"""Rows that are equal in what they are ordered by first: what comes next decides, in two firms and two jobs each."""

from __future__ import annotations

from tests.pipeline.sql.on_rows import check


def test_weighings_with_the_same_minutes_on_an_emitter_stand_by_their_number_though_another_was_caught_first() -> None:
    """Caught 10:00, 10:10 and 10:20, numbered 7, 5 and 6, all within the first 30 minutes on the emitter: the masses add
    up in the order caught (100, 150, 175 g), the rows stand by number."""
    check(
        "features/ftr_emitter_curve",
        """
        firm_id | job_id | emitter_no | catch_no | focus_minutes | cumulative_magnetite_kg
        n       | a      | 1          | 5        | 30            | 0.15
        n       | a      | 1          | 6        | 30            | 0.175
        n       | a      | 1          | 7        | 30            | 0.1
        n       | a      | 1          | 2        | 31            | 0.176
        s       | a      | 1          | 1        | 12            | 0.004
        s       | a      | 1          | 4        | 12            | 0.003
        """,
        ordered=True,
        ftr_catch_curve="""
        firm_id | job_id | catch_no | trap   | focus_emitter_no | minutes_since_start | caught_at | interval_minutes | dry_g
        s       | a      | 4        | magnet | 1                | 12                  | 04 10:00  | 12               | 3
        n       | a      | 7        | magnet | 1                | 30                  | 04 10:00  | 30               | 100
        n       | a      | 5        | magnet | 1                | 30                  | 04 10:10  | 0                | 50
        s       | a      | 1        | magnet | 1                | 12                  | 04 10:01  | 0                | 1
        n       | a      | 6        | magnet | 1                | 30                  | 04 10:20  | 0                | 25
        n       | a      | 2        | magnet | 1                | 31                  | 04 11:00  | 1                | 1
        """,
    )
