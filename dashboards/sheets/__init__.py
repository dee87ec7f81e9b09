"""Sheets of paper: what a wall, a lender, a director or a bench is given, set as PDF."""
