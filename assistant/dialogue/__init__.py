"""The conversation: takes events, gives actions. No clock, no thread, no device."""

from assistant.dialogue.conversation import begin, resume, step, welcome_back
from assistant.dialogue.state import Mode, State, Step

__all__ = ["Mode", "State", "Step", "begin", "resume", "step", "welcome_back"]
