"""What a check found, as data: findings (something is wrong), notices (worth knowing), and what
could not be checked at all."""

from dataclasses import asdict, dataclass

# A store with one broken key can fail at every later entry. Past this many findings of one id the
# rest are only counted, so that the first ones stay readable.
SHOWN_PER_ID = 100


class FormatError(Exception):
    """Bytes are not what FORMAT.md says they are. The text says how, and quotes no record."""


class CannotCheck(Exception):
    """The check could not be made (unreadable file, newer edition, still sealed)."""


@dataclass
class Finding:
    """One finding. `seq`, `kind` and `chart` are None where unknown or where they do not apply."""

    id: str
    where: str
    seq: int | None
    kind: str | None
    chart: str | None
    text: str


class Report:
    """Collects findings; knows the exit code that follows from them."""

    def __init__(self, what):
        self.what = what
        self.findings = []
        self.notices = []
        self.unchecked = []
        self.facts = {}
        self._counts = {}

    def wrong(self, id, where, text, leaf=None):
        """Something is not as it should be. `leaf`, where known, says which entry it is about."""
        self._add(self.findings, id, where, text, leaf)

    def notice(self, id, where, text, leaf=None):
        """Worth knowing; does not make the store or package unsound."""
        self._add(self.notices, id, where, text, leaf)

    def unable(self, id, where, text):
        """A check that was asked for and could not be made."""
        self._add(self.unchecked, id, where, text, None)

    def _add(self, target, id, where, text, leaf):
        count = self._counts[id] = self._counts.get(id, 0) + 1
        if count > SHOWN_PER_ID:
            return
        about = leaf if leaf is not None else {}
        target.append(
            Finding(id, where, about.get("seq"), about.get("kind"), about.get("chart"), text)
        )

    def not_shown(self):
        """How many findings of each id were counted but not listed."""
        return {i: n - SHOWN_PER_ID for i, n in self._counts.items() if n > SHOWN_PER_ID}

    def exit_code(self):
        """0 sound, 1 something is wrong, 2 could not check."""
        if self.findings:
            return 1
        return 2 if self.unchecked else 0

    def as_data(self):
        """The report for a program to read."""
        return {
            "what": self.what,
            "result": ["sound", "wrong", "could not check"][self.exit_code()],
            "facts": self.facts,
            "findings": [asdict(f) for f in self.findings],
            "notices": [asdict(f) for f in self.notices],
            "unchecked": [asdict(f) for f in self.unchecked],
            "not_shown": self.not_shown(),
        }
