-- grain : one row an emitter
-- key   : firm_id, job_id, emitter_no
-- reads : emitters, ref_emitter_contents, ref_typical_emitters, ref_volume_rules
-- why   : water content of each emitter as a range, between the tabulated heights next to its own
create table ftr_emitter as
with sized as (
    select
        e.firm_id, e.job_id, e.emitter_no, e.emitter_kind, e.floor_level, e.cold_at_survey, e.valve_kind,
        e.length_mm,
        case when t.uses_logged_size then coalesce(e.height_mm, t.height_mm) else t.height_mm end
            as used_height_mm,
        case when t.uses_logged_size then coalesce(e.length_mm, t.length_mm) else t.length_mm end
            as used_length_mm,
        case
            when t.emitter_kind is null then 'typical_emitter'
            when t.uses_logged_size and e.height_mm is not null and e.length_mm is not null then 'table'
            else 'table_typical_size'
        end as content_method
    from emitters as e
    left join ref_typical_emitters as t on e.emitter_kind = t.emitter_kind
),
neighbours as (
    -- the tabulated heights just below and just above; beyond the table both are its end
    select
        s.firm_id, s.job_id, s.emitter_no,
        coalesce(max(c.height_mm) filter (where c.height_mm <= s.used_height_mm), min(c.height_mm)) as below_mm,
        coalesce(min(c.height_mm) filter (where c.height_mm >= s.used_height_mm), max(c.height_mm)) as above_mm
    from sized as s
    join ref_emitter_contents as c on s.emitter_kind = c.emitter_kind
    group by s.firm_id, s.job_id, s.emitter_no
),
weighted as (
    select
        s.firm_id, s.job_id, s.emitter_no, s.emitter_kind, n.below_mm, n.above_mm,
        s.used_length_mm / 1000.0 as length_m,
        case
            when n.above_mm > n.below_mm then (s.used_height_mm - n.below_mm) / (n.above_mm - n.below_mm)
            else 0.0
        end as share_above
    from sized as s
    join neighbours as n
        on s.firm_id = n.firm_id and s.job_id = n.job_id and s.emitter_no = n.emitter_no
),
contents as (
    select
        w.firm_id, w.job_id, w.emitter_no,
        w.length_m * (b.content_low_l_per_m * (1 - w.share_above) + a.content_low_l_per_m * w.share_above)
            as low_l,
        w.length_m * (b.content_mid_l_per_m * (1 - w.share_above) + a.content_mid_l_per_m * w.share_above)
            as mid_l,
        w.length_m * (b.content_high_l_per_m * (1 - w.share_above) + a.content_high_l_per_m * w.share_above)
            as high_l
    from weighted as w
    join ref_emitter_contents as b on w.emitter_kind = b.emitter_kind and w.below_mm = b.height_mm
    join ref_emitter_contents as a on w.emitter_kind = a.emitter_kind and w.above_mm = a.height_mm
)
select
    s.firm_id, s.job_id, s.emitter_no, s.emitter_kind, s.floor_level, s.cold_at_survey, s.valve_kind, s.length_mm,
    coalesce(c.low_l, r.low) as content_low_l,
    coalesce(c.mid_l, r.mid) as content_mid_l,
    coalesce(c.high_l, r.high) as content_high_l,
    s.content_method
from sized as s
left join contents as c
    on s.firm_id = c.firm_id and s.job_id = c.job_id and s.emitter_no = c.emitter_no
left join ref_volume_rules as r on r.rule = 'typical_emitter' and r.applies_to = 'any'
order by s.firm_id, s.job_id, s.emitter_no;
