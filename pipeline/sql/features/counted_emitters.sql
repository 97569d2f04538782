-- grain : one row a job whose emitters were counted at survey
-- key   : firm_id, job_id
-- reads : jobs, emitter_contents
-- why   : emitters that were counted and not listed: how many, how many of known kind, and the water in them
create temp table counted_emitters as
with kinds as (
    select firm_id, job_id, 'panel_11' as emitter_kind, panel_11_count as emitters from jobs
    union all
    select firm_id, job_id, 'panel_21' as emitter_kind, panel_21_count as emitters from jobs
    union all
    select firm_id, job_id, 'panel_22' as emitter_kind, panel_22_count as emitters from jobs
    union all
    select firm_id, job_id, 'towel_rail' as emitter_kind, towel_rail_count as emitters from jobs
    union all
    select firm_id, job_id, 'column' as emitter_kind, column_count as emitters from jobs
    union all
    select firm_id, job_id, 'underfloor_loop' as emitter_kind, underfloor_loop_count as emitters from jobs
),
named as (
    select
        firm_id, job_id, cast(sum(emitters) as bigint) as emitters,
        cast(sum(case when starts_with(emitter_kind, 'panel_') then emitters else 0 end) as bigint) as panels,
        cast(sum(case when emitter_kind = 'underfloor_loop' then emitters else 0 end) as bigint) as loops
    from kinds
    group by firm_id, job_id
),
parts as (
    select firm_id, job_id, emitter_kind, emitters from kinds
    where emitters > 0
    union all
    -- what the kinds leave over is of unknown kind
    select j.firm_id, j.job_id, cast(null as varchar) as emitter_kind,
        j.emitter_count_at_survey - coalesce(n.emitters, 0) as emitters
    from jobs as j
    join named as n on j.firm_id = n.firm_id and j.job_id = n.job_id
    where j.emitter_count_at_survey > coalesce(n.emitters, 0)
)
select
    p.firm_id, p.job_id,
    cast(sum(p.emitters) as bigint) as emitter_count,
    max(n.emitters) as named_count, max(n.panels) as panels, max(n.loops) as loops,
    -- added as whole microlitres: the same to the last digit, however the rows are shared out
    sum(p.emitters * cast(round(c.low_l * 1000000) as bigint)) / 1000000.0 as low_l,
    sum(p.emitters * cast(round(c.mid_l * 1000000) as bigint)) / 1000000.0 as mid_l,
    sum(p.emitters * cast(round(c.high_l * 1000000) as bigint)) / 1000000.0 as high_l
from parts as p
join named as n on p.firm_id = n.firm_id and p.job_id = n.job_id
join emitter_contents as c
    on p.emitter_kind is not distinct from c.emitter_kind and c.height_mm is null and c.length_mm is null
group by p.firm_id, p.job_id;
