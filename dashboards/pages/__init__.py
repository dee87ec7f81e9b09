"""What each page holds, as data, before a template draws it."""
