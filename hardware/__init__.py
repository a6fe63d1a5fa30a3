"""Everything that touches the world, each part behind a port in assistant.ports."""
