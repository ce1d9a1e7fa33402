-- One cohort, club group and metric in the pair of windows asked for. Parameters: window_pair.
select
    cohort, window_pair, before_from, before_to, after_from, after_to, club_group, metric, measure, students,
    students_only_before, before, after, change, ci_low, ci_high, expected_change, change_beyond_expected,
    beyond_low, beyond_high, share_beyond_mdc, spread_before,
    spread_after, spread_change, spread_low, spread_high,
    coalesce(present, true) as present
from mart.cohort_change
where window_pair = $window_pair
order by not present, cohort, club_group, metric
