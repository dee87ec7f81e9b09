"""What a museum keeps besides its register, as named, whole objects."""
