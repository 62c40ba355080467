"""One module a command: it opens, asks one use case, prints. Each is imported when it is run."""
