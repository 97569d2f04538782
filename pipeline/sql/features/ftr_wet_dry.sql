-- grain : one row a firm
-- key   : firm_id
-- reads : jobs, catches, book_settings
-- why   : wet / dry mass: the firm's own where a catch was weighed both ways, else the firm.toml figure
create temp table ftr_wet_dry as
with both_ways as (
    -- a wet and a dry weighing of one trap at one moment; dry heavier than wet is a slip and is left out
    select
        firm_id, job_id, trap, caught_at,
        max(mass_g) filter (where coalesce(weighed, 'wet') = 'wet') as wet_g,
        max(mass_g) filter (where weighed = 'dry') as dry_g
    from catches
    group by firm_id, job_id, trap, caught_at
    having count(*) = 2 and count(*) filter (where weighed = 'dry') = 1
),
own as (
    select firm_id, median(wet_g / dry_g) as own_ratio
    from both_ways
    where dry_g > 0 and wet_g >= dry_g
    group by firm_id
),
firms as (
    select distinct firm_id from jobs
)
select
    f.firm_id,
    coalesce(o.own_ratio, s.wet_dry_ratio) as wet_dry_ratio,
    case when o.own_ratio is null then 'firm_toml' else 'weighed_both_ways' end as wet_dry_method
from firms as f
left join own as o on f.firm_id = o.firm_id
cross join book_settings as s;
