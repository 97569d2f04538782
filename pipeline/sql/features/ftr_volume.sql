-- grain : one row a job
-- key   : firm_id, job_id
-- reads : jobs, emitter_sums, ftr_pipe_volume, ref_volume_rules
-- why   : system volume as a range with the name of its method; ranges are added end to end, the cautious way; a
--         buffer, store or coil is added as logged, or, with a heat pump, as a range where it is not
create table ftr_volume as
with rules as (
    select
        j.firm_id, j.job_id, j.boiler_output_kw,
        coalesce(l.low, la.low) as pipe_low, coalesce(l.mid, la.mid) as pipe_mid,
        coalesce(l.high, la.high) as pipe_high,
        coalesce(b.low, ba.low) as source_low, coalesce(b.mid, ba.mid) as source_mid,
        coalesce(b.high, ba.high) as source_high,
        coalesce(j.buffer_l, u.low, 0) as buffer_low, coalesce(j.buffer_l, u.mid, 0) as buffer_mid,
        coalesce(j.buffer_l, u.high, 0) as buffer_high,
        coalesce(c.low, k.low, ka.low) as kw_low, coalesce(c.mid, k.mid, ka.mid) as kw_mid,
        coalesce(c.high, k.high, ka.high) as kw_high,
        t.low as typical_low, t.mid as typical_mid, t.high as typical_high
    from jobs as j
    left join ref_volume_rules as l on l.rule = 'pipes_per_emitter' and l.applies_to = j.pipe_layout
    left join ref_volume_rules as la on la.rule = 'pipes_per_emitter' and la.applies_to = 'any'
    left join ref_volume_rules as b on b.rule = 'source_content' and b.applies_to = j.boiler_kind
    left join ref_volume_rules as ba on ba.rule = 'source_content' and ba.applies_to = 'any'
    left join ref_volume_rules as c
        on c.rule = 'litres_per_kw' and c.applies_to = j.boiler_kind and j.boiler_kind in ('combi', 'heat_pump')
    left join ref_volume_rules as u on u.rule = 'buffer_not_logged' and u.applies_to = j.boiler_kind
    left join ref_volume_rules as k on k.rule = 'litres_per_kw' and k.applies_to = j.pipe_layout
    left join ref_volume_rules as ka on ka.rule = 'litres_per_kw' and ka.applies_to = 'any'
    left join ref_volume_rules as t on t.rule = 'typical_system' and t.applies_to = 'any'
),
parts as (
    select
        r.firm_id, r.job_id, coalesce(e.emitter_count, 0) as emitter_count, r.boiler_output_kw,
        e.low_l as emitter_low, e.mid_l as emitter_mid, e.high_l as emitter_high,
        coalesce(p.pipe_low_l, r.pipe_low * e.emitter_count) as pipe_low,
        coalesce(p.pipe_mid_l, r.pipe_mid * e.emitter_count) as pipe_mid,
        coalesce(p.pipe_high_l, r.pipe_high * e.emitter_count) as pipe_high,
        p.pipe_mid_l is not null as has_runs,
        r.source_low + r.buffer_low as source_low, r.source_mid + r.buffer_mid as source_mid,
        r.source_high + r.buffer_high as source_high,
        coalesce(r.kw_low * r.boiler_output_kw, r.typical_low) + r.buffer_low as whole_low,
        coalesce(r.kw_mid * r.boiler_output_kw, r.typical_mid) + r.buffer_mid as whole_mid,
        coalesce(r.kw_high * r.boiler_output_kw, r.typical_high) + r.buffer_high as whole_high
    from rules as r
    left join emitter_sums as e on r.firm_id = e.firm_id and r.job_id = e.job_id
    left join ftr_pipe_volume as p on r.firm_id = p.firm_id and r.job_id = p.job_id
)
select
    firm_id, job_id, emitter_count,
    emitter_low as emitter_volume_low_l, emitter_mid as emitter_volume_mid_l,
    emitter_high as emitter_volume_high_l,
    pipe_low as pipe_volume_low_l, pipe_mid as pipe_volume_mid_l, pipe_high as pipe_volume_high_l,
    source_low as source_volume_low_l, source_mid as source_volume_mid_l,
    source_high as source_volume_high_l,
    coalesce(emitter_low + pipe_low + source_low, whole_low) as system_volume_low_l,
    coalesce(emitter_mid + pipe_mid + source_mid, whole_mid) as system_volume_l,
    coalesce(emitter_high + pipe_high + source_high, whole_high) as system_volume_high_l,
    case
        when emitter_mid is not null and has_runs then 'emitters_and_pipe_runs'
        when emitter_mid is not null then 'emitters_and_pipe_rule'
        when boiler_output_kw is not null then 'boiler_output_rule'
        else 'typical_system'
    end as system_volume_method
from parts
order by firm_id, job_id;
