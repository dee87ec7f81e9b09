"""The pages and forms of works, rooms and measured numbers."""
