-- grain : one row a fault of a rejected row
-- key   : batch_id, file, table_name, line, column_name, reason
-- reads : checked_sources, checked_rejects, visit_rejects
-- why   : what could not be used and why, faults within a row and against its job together
create table rejects as
with together as (
    select batch_no, source_no, line, column_name, value, reason from checked_rejects
    union all
    select batch_no, source_no, line, column_name, value, reason from visit_rejects
)
select s.batch_id, s.file, s.table_name, t.line, t.column_name, t.value, t.reason
from together as t
join checked_sources as s on t.batch_no = s.batch_no and t.source_no = s.source_no
order by s.batch_no, s.file, s.table_name, t.line, t.column_name, t.reason;
