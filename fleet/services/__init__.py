"""One use case a function; the protocols they need stand in `ports`."""
