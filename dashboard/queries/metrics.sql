-- One metric and club group a row: how to show it, what matters, which way is better.
select metric, club_group, label, unit, display_unit, per_display_unit, decimals, matters_from, better, description
from mart.metric
