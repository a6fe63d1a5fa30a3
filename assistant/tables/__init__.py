"""Numbers that came from somewhere: TOML files beside this one, each row with its source."""
