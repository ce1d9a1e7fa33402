-- The latest publication: one row; evidence_at where it is older than the sessions and blocks.
with parts as (select part, through_night, made_at from ops.current_through),

blocks as (select made_at from parts where part = 'sessions and blocks'),

evidence as (
    select parts.through_night as evidence_through, parts.made_at as evidence_at
    from parts
    inner join blocks on parts.made_at < blocks.made_at
    where parts.part = 'evidence'
)

select
    publication.published_at, publication.through_night, publication.nights, publication.shots, publication.sessions,
    publication.episodes, publication.nights_built, publication.warnings, evidence.evidence_through,
    evidence.evidence_at
from ops.publication as publication
left join evidence on true
order by publication.published_at desc
limit 1
