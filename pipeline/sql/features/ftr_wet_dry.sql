-- grain : one row a firm
-- key   : firm_id
-- reads : jobs, ftr_wet_dry_pair, kept_wet_dry_pair, book_settings
-- why   : wet / dry mass of magnetite: the firm's own where a catch was weighed both ways, else the firm.toml figure,
--         and of other debris that of firm.toml;
--         rounded to 0.01, so that a few more weighings do not stir every mass in the book
create temp table ftr_wet_dry as
with pairs as (
    select firm_id, wet_dry_ratio from ftr_wet_dry_pair
    union all
    select firm_id, wet_dry_ratio from kept_wet_dry_pair
),
own as (
    select firm_id, round(median(wet_dry_ratio), 2) as own_ratio from pairs group by firm_id
),
firms as (
    select distinct firm_id from jobs
)
select
    f.firm_id,
    coalesce(o.own_ratio, s.wet_dry_ratio) as wet_dry_ratio,
    case when o.own_ratio is null then 'firm_toml' else 'weighed_both_ways' end as wet_dry_method,
    s.other_wet_dry_ratio
from firms as f
left join own as o on f.firm_id = o.firm_id
cross join book_settings as s;
