"""The bench assistant: decides what to say and show; touches no device."""
