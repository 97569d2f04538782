-- grain : one row an emitter
-- key   : firm_id, job_id, emitter_no
-- reads : emitters, emitter_contents, counted_emitters
-- why   : water content of each emitter as a range; one of unknown kind holds the mean of those counted at survey
create table ftr_emitter as
with contents as (
    select
        e.firm_id, e.job_id, e.emitter_no, e.emitter_kind, e.floor_level, e.cold_at_survey, e.valve_kind, e.length_mm,
        c.low_l, c.mid_l, c.high_l, c.content_method,
        case when e.emitter_kind is null then n.emitter_count end as counted,
        n.low_l as counted_low_l, n.mid_l as counted_mid_l, n.high_l as counted_high_l
    from emitters as e
    join emitter_contents as c
        on
            e.emitter_kind is not distinct from c.emitter_kind and e.height_mm is not distinct from c.height_mm
            and e.length_mm is not distinct from c.length_mm
    left join counted_emitters as n on e.firm_id = n.firm_id and e.job_id = n.job_id
)
select
    firm_id, job_id, emitter_no, emitter_kind, floor_level, cold_at_survey, valve_kind, length_mm,
    coalesce(counted_low_l / counted, low_l) as content_low_l,
    coalesce(counted_mid_l / counted, mid_l) as content_mid_l,
    coalesce(counted_high_l / counted, high_l) as content_high_l,
    case when counted is null then content_method else 'mean_of_counted' end as content_method
from contents
order by firm_id, job_id, emitter_no;
