-- grain : one row a row rejected because of its job
-- key   : batch_no, source_no, line
-- reads : visit_rejects
-- why   : which rows of the batches before one lie outside the visit they belong to
select batch_no, source_no, line, firm_id, job_id
from visit_rejects
where batch_no < $batch_no
order by batch_no, source_no, line;
