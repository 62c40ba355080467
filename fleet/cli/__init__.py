"""How is the program used from a command line? The only package that knows Click and Rich."""
