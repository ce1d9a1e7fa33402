"""What the models of change read: sessions' first blocks of those in evidence, and what interrupts them."""

FIRST_BLOCKS = """
select
    block.* exclude (night),
    block.night as day
from core.first_block as block
order by all
"""
EVENTS = "select student_id, bay_id, club, on_date from core.interruption order by all"
OFFSETS = """
select
    bay_id,
    metric,
    nullif(from_date, date '1900-01-01') as from_date,
    bay_offset,
    ci_low,
    ci_high
from core.bay_epoch
order by all
"""
CHANGE_READS = {"first_blocks": FIRST_BLOCKS, "events": EVENTS}
