-- One drill episode of a student with its change in carry, split. Parameters: student_id.
select
    source.episode_id, episode.night, drill.name, source.club_group, source.carry_change, source.from_club_speed,
    source.from_contact, source.from_attack_angle, source.from_dynamic_loft, source.from_spin, source.remainder,
    source.from_contact + source.from_attack_angle + source.from_dynamic_loft + coalesce(source.from_spin, 0)
        as from_delivery
from mart.carry_source as source
inner join core.drill_episode as episode on source.episode_id = episode.episode_id
left join mart.drill as drill on source.drill_id = drill.drill_id
where source.student_id = $student_id and episode.student_id = $student_id and episode.kind = 'drill' and source.carry_change is not null
order by episode.begins_at desc
