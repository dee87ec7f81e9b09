"""From the bytes that came to a text table: workbooks, archives, JSON, fixed widths, encodings."""
