-- grain : one row a kind and size of emitter, every kind in its typical size and one of unknown kind among them
-- key   : emitter_kind, height_mm, length_mm
-- reads : emitters, ref_emitter_contents, ref_typical_emitters, ref_volume_rules
-- why   : water content as a range, between the tabulated heights next to its own
create temp table emitter_contents as
with sizes as (
    select emitter_kind, height_mm, length_mm from emitters
    union
    select emitter_kind, cast(null as double) as height_mm, cast(null as double) as length_mm from ref_typical_emitters
    union
    select cast(null as varchar) as emitter_kind, cast(null as double) as height_mm, cast(null as double) as length_mm
),
sized as (
    select
        s.emitter_kind, s.height_mm, s.length_mm,
        case when t.uses_logged_size then coalesce(s.height_mm, t.height_mm) else t.height_mm end
            as used_height_mm,
        case when t.uses_logged_size then coalesce(s.length_mm, t.length_mm) else t.length_mm end
            as used_length_mm,
        case
            when t.emitter_kind is null then 'typical_emitter'
            when t.uses_logged_size and s.height_mm is not null and s.length_mm is not null then 'table'
            else 'table_typical_size'
        end as content_method
    from sizes as s
    left join ref_typical_emitters as t on s.emitter_kind = t.emitter_kind
),
neighbours as (
    -- the tabulated heights just below and just above; beyond the table both are its end
    select
        s.emitter_kind, s.used_height_mm,
        coalesce(max(c.height_mm) filter (where c.height_mm <= s.used_height_mm), min(c.height_mm)) as below_mm,
        coalesce(min(c.height_mm) filter (where c.height_mm >= s.used_height_mm), max(c.height_mm)) as above_mm
    from (select distinct emitter_kind, used_height_mm from sized) as s
    join ref_emitter_contents as c on s.emitter_kind = c.emitter_kind
    group by s.emitter_kind, s.used_height_mm
),
weighted as (
    select
        emitter_kind, used_height_mm, below_mm, above_mm,
        case when above_mm > below_mm then (used_height_mm - below_mm) / (above_mm - below_mm) else 0.0 end
            as share_above
    from neighbours
),
contents as (
    select
        w.emitter_kind, w.used_height_mm,
        b.content_low_l_per_m * (1 - w.share_above) + a.content_low_l_per_m * w.share_above as low_l_per_m,
        b.content_mid_l_per_m * (1 - w.share_above) + a.content_mid_l_per_m * w.share_above as mid_l_per_m,
        b.content_high_l_per_m * (1 - w.share_above) + a.content_high_l_per_m * w.share_above as high_l_per_m
    from weighted as w
    join ref_emitter_contents as b on w.emitter_kind = b.emitter_kind and w.below_mm = b.height_mm
    join ref_emitter_contents as a on w.emitter_kind = a.emitter_kind and w.above_mm = a.height_mm
)
select
    s.emitter_kind, s.height_mm, s.length_mm, s.content_method,
    coalesce(s.used_length_mm / 1000.0 * c.low_l_per_m, r.low) as low_l,
    coalesce(s.used_length_mm / 1000.0 * c.mid_l_per_m, r.mid) as mid_l,
    coalesce(s.used_length_mm / 1000.0 * c.high_l_per_m, r.high) as high_l
from sized as s
left join contents as c on s.emitter_kind = c.emitter_kind and s.used_height_mm = c.used_height_mm
left join ref_volume_rules as r on r.rule = 'typical_emitter' and r.applies_to = 'any';
