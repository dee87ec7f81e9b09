"""One file per group of pages. Parse, call, render."""
