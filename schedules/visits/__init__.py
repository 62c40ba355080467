"""Which technician visits which sites when, at what cost? The planner of vendor visits, pure."""
