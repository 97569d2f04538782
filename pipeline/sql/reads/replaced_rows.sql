-- grain : one row a batch, file and table
-- key   : batch_id, file, table_name
-- reads : ledger
-- why   : how many rows of the batches before one are replaced by newer versions
select batch_id, file, table_name, superseded
from ledger
where batch_no < $batch_no and superseded > 0
order by batch_no, file, table_name;
