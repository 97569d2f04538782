-- grain : one row a job with logged pipe runs
-- key   : firm_id, job_id
-- reads : pipe_runs, ref_tube_bores
-- why   : contents = pi/4 x bore^2 x length, each run by the tube of its material nearest in outside diameter
create temp table ftr_pipe_volume as
with matched as (
    -- material not logged: copper stands in; a size between two tubes takes the nearest, the smaller at a tie
    select
        p.firm_id, p.job_id, p.run_no, p.length_m, p.outside_mm / t.outside_mm as scale,
        t.bore_low_mm, t.bore_mid_mm, t.bore_high_mm,
        row_number() over (
            partition by p.firm_id, p.job_id, p.run_no order by abs(t.outside_mm - p.outside_mm), t.outside_mm
        ) as nearest
    from pipe_runs as p
    join ref_tube_bores as t on t.material = coalesce(p.material, 'copper')
)
select
    firm_id, job_id,
    sum(cast(round(pi() / 4 * power(bore_low_mm * scale, 2) * length_m * 1000) as bigint)) / 1000000.0 as pipe_low_l,
    sum(cast(round(pi() / 4 * power(bore_mid_mm * scale, 2) * length_m * 1000) as bigint)) / 1000000.0 as pipe_mid_l,
    sum(cast(round(pi() / 4 * power(bore_high_mm * scale, 2) * length_m * 1000) as bigint)) / 1000000.0 as pipe_high_l
from matched
where nearest = 1
group by firm_id, job_id;
