"""The conversation: takes events, gives actions. No clock, no thread, no device."""

from assistant.dialogue.conversation import Mode, State, Step, begin, step

__all__ = ["Mode", "State", "Step", "begin", "step"]
