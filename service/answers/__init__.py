"""What pages, commands and notices ask of a museum."""
