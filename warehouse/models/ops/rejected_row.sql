-- one row: one row of an export that could not be loaded, with its first fault
-- what could name a person is withheld
select
    coalesce(path.shown, rejected.path) as path,
    rejected.line,
    rejected.column_name,
    coalesce(cell.shown, rejected.value) as value,
    rejected.reason,
    coalesce(message.shown, rejected.detail) as detail,
    coalesce(place.shown, rejected.place) as place
from raw.rejected_row as rejected
left join stage.shown_path as path on rejected.path = path.said
left join stage.shown_message as message on rejected.detail = message.said
left join stage.shown_message as place on rejected.place = place.said
left join stage.shown_value as cell
    on rejected.column_name is not distinct from cell.column_name and rejected.value = cell.said
where rejected.latest
