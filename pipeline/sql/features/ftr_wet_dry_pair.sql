-- grain : one row a trap of magnetite weighed wet and dry at one moment
-- key   : firm_id, job_id, trap, caught_at
-- reads : catches
-- why   : the firm's own wet / dry ratios of magnetite: sand packs closer; dry heavier than wet is a slip, left out
create table ftr_wet_dry_pair as
with both_ways as (
    select
        firm_id, job_id, trap, caught_at,
        max(mass_g) filter (where coalesce(weighed, 'wet') = 'wet') as wet_g,
        max(mass_g) filter (where weighed = 'dry') as dry_g
    from catches
    where trap = 'magnet' or sticks_to_magnet
    group by firm_id, job_id, trap, caught_at
    having count(*) = 2 and count(*) filter (where weighed = 'dry') = 1
)
select firm_id, job_id, trap, caught_at, wet_g / dry_g as wet_dry_ratio
from both_ways
where dry_g > 0 and wet_g >= dry_g;
