"""What comes of charts that were filled on paper: read, and kept until a person accepts it."""
