-- One number that the academy's drills aim at, for one club group: the way that is better, most practised first.
with drills as (select aim_metric, aim_direction, club_group, episodes from mart.drill where aim_metric is not null),

changes as (select distinct club_group, metric from mart.cohort_change),

matched as (
    select
        changes.metric,
        changes.club_group,
        case drills.aim_direction when 'raise' then 'up' when 'lower' then 'down' else 'zero' end as better,
        -- a drill for any club is counted once, with the driver first among equals
        drills.episodes / (case when drills.club_group = 'any' then 4 else 1 end) as episodes
    from drills
    inner join changes
        on drills.aim_metric = changes.metric
        and (drills.club_group = changes.club_group or drills.club_group = 'any')
)

select metric, club_group, arg_max(better, episodes) as better, sum(episodes) as episodes
from matched
group by metric, club_group
order by episodes desc, metric, club_group
