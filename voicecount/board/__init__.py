"""The wall board: a page that shows the count to the room, read from the journal."""
