-- grain : one row a batch, file and table
-- key   : batch_id, file, table_name
-- reads : checked_sources, checked_rejects, job_ledger
-- why   : every row ever received ends in exactly one of five states; the counts add up
create table ledger as
with counted as (
    select
        batch_no, source_no,
        sum(rows) filter (where status = 'accepted') as accepted,
        sum(rows) filter (where status = 'rejected') as rejected,
        sum(rows) filter (where status = 'duplicate') as duplicates,
        sum(rows) filter (where status = 'waiting') as waiting,
        sum(rows) filter (where status = 'superseded') as superseded
    from job_ledger
    group by batch_no, source_no
),
refused as (
    select batch_no, source_no, count(distinct line) as rejected
    from checked_rejects
    group by batch_no, source_no
)
select
    s.batch_id, s.batch_no, s.file, s.table_name, s.rows,
    cast(coalesce(c.accepted, 0) as bigint) as accepted,
    cast(coalesce(c.rejected, 0) + coalesce(r.rejected, 0) as bigint) as rejected,
    cast(coalesce(c.duplicates, 0) as bigint) as duplicates,
    cast(coalesce(c.waiting, 0) as bigint) as waiting,
    cast(coalesce(c.superseded, 0) as bigint) as superseded
from checked_sources as s
left join counted as c on s.batch_no = c.batch_no and s.source_no = c.source_no
left join refused as r on s.batch_no = r.batch_no and s.source_no = r.source_no;
