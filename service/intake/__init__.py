"""A file on its way in: preview, choices, the crash-safe order, receipt, verification."""
