-- warning: an export of the last seven nights, or of a night that cannot be, was refused
-- about: ops.export_file
-- remedy: correct its profile or the file, then run the night again; `academy check-exports` tries it first
with files as (
    select
        path,
        reason,
        status,
        night,
        night between getvariable('first_night') and getvariable('last_night') as can_be
    from ops.export_file
)

select path || ': ' || reason as example
from files
where status = 'refused' and (not can_be or night > (select max(night) from files where can_be) - 7)
