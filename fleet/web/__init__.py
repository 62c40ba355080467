"""The pages: what the commands answer, for people who do not type commands."""
