"""What happens to a unit from issue to retirement? One act a module, each a single change."""
