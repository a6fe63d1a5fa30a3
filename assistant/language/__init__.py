"""Words to meaning and meaning to words; both directions read the grammars."""
