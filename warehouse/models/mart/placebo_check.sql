-- one row: one horizon and metric, aims and side effects apart, with how placebo drills came out
with placebos as (
    select
        horizon,
        metric,
        is_aim,
        case better when 'down' then -1 else 1 end as way,
        better,
        placebo_effect,
        placebo_low,
        placebo_high,
        matters_from
    from mart.drill_effect
    where placebo_low is not null and measure <> 'spread' and club_group <> 'any' and students >= 10
)

select
    horizon,
    metric,
    is_aim,
    count(*) as placebos,
    avg((placebo_low <= 0 and placebo_high >= 0)::integer) as held_share,
    avg((better is not null and case when way > 0 then placebo_low > 0 else placebo_high < 0 end)::integer)
        as called_share,
    avg(way * placebo_effect / matters_from) filter (better is not null) as lean
from placebos
group by horizon, metric, is_aim
order by all
