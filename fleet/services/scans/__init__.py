"""What comes of charts that were filled on paper and came back as pictures."""
