"""stand-in until flight lands"""
READS = {"s": "select shot_number from stage.attributed_shot"}
import polars as pl
def rows(frames, settings):
    f = frames["s"]
    return f.with_columns(model_carry=pl.lit(None, dtype=pl.Float64), model_spin=pl.lit(None, dtype=pl.String), carry_available=pl.lit(None, dtype=pl.Float64))
