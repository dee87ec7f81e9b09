"""From a logger's file to readings: which bytes, which layout, which columns, which time base."""
