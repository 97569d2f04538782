"""The build's own SQL files as a Spark server reads them: translated, never written twice."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from pipeline.pool.lake import PoolError
from pipeline.store.book import sql_text

if TYPE_CHECKING:
    from sqlglot.expressions import Expression

MISSING = "A Spark server is asked through the extra `pool`: pip install 'sludgebook[pool]'."
BY_BATCH = "regexp_extract(batch_id, '^(.*)-[a-z2-7]{12}$', 1)"
"""The firm that a batch of a pool belongs to, in the words of both engines (see `hidden.hidden_rows`)."""


@dataclass(frozen=True, slots=True)
class SparkStep:
    """One SQL file for Spark: the table it makes and the select that fills it."""

    table: str
    select: str


@lru_cache(maxsize=128)
def spark_step(step: str) -> SparkStep:
    """The file of a step, such as `core/jobs`, translated. PoolError where it is no plain `create table … as`."""
    try:
        import sqlglot
        from sqlglot import exp
        from sqlglot.errors import ErrorLevel, SqlglotError
    except ImportError as error:
        raise PoolError(MISSING) from error
    try:
        (tree,) = sqlglot.parse(sql_text(step), read="duckdb")
        if not isinstance(tree, exp.Create) or tree.expression is None:
            raise PoolError(f"{step}.sql does not make a table from a select.")
        select = tree.expression.transform(_as_double).sql(dialect="spark", unsupported_level=ErrorLevel.RAISE)
    except SqlglotError as error:
        raise PoolError(f"{step}.sql does not carry over to Spark: {str(error).splitlines()[0]}") from error
    return SparkStep(str(tree.this.name), select)


def _as_double(node: Expression) -> Expression:
    """A literal with a decimal point as a double: DuckDB divides doubles where Spark would divide fixed decimals."""
    from sqlglot import exp

    is_decimal = isinstance(node, exp.Literal) and not node.is_string and "." in node.this
    return exp.cast(node.copy(), "double") if is_decimal else node
