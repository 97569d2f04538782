-- grain : one row a firm that has handed in callbacks
-- key   : firm_id
-- reads : checked_spans, checked_sources, jobs
-- why   : one end of follow-up a firm: the last day on which its callbacks were handed in, whatever became of the rows
create table follow_up_end as
with only_firm as (
    select min(firm_id) as firm_alone from jobs
    having count(distinct firm_id) = 1
),
handed_in as (
    select s.firm_id, d.loaded_on
    from checked_spans as s
    join checked_sources as d on s.batch_no = d.batch_no and s.source_no = d.source_no
    where s.table_name = 'callbacks'
    union all
    -- a table without a row says that there were none; whose, is clear in a book of one firm alone
    select o.firm_alone as firm_id, d.loaded_on
    from checked_sources as d
    cross join only_firm as o
    where d.table_name = 'callbacks' and d.rows = 0
)
select firm_id, max(loaded_on) as callbacks_known_to
from handed_in
group by firm_id
order by firm_id;
