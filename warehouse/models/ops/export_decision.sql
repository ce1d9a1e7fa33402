-- one row: one decision of a person about an export; why it was made stands in the home's book alone
select
    decision.number,
    decision.decided_at,
    coalesce(path.shown, decision.path) as path,
    decision.content_hash,
    decision.decision
from raw.export_decision as decision
left join stage.shown_path as path on decision.path = path.said
