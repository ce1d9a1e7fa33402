-- The mean change in carry of one group's episodes, split. Parameters: grouped_by, group_id.
select
    grouped_by, group_id, club_group, episodes, students, carry_change, carry_change_low, carry_change_high,
    from_club_speed, from_club_speed_low, from_club_speed_high, from_delivery, from_delivery_low, from_delivery_high,
    from_contact, from_attack_angle, from_dynamic_loft, from_spin, remainder
from mart.carry_source_summary
where grouped_by = $grouped_by and group_id = $group_id and carry_change_low is not null
order by club_group
