"""What a reader sees and does, in a real browser on a real server."""
