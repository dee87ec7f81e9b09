"""The stores: originals, readings, results and the register. No SQL and no Parquet elsewhere."""
