"""What each form of the register asks, as data."""
