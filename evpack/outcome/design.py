"""The whole design, and the decision on it."""

from __future__ import annotations

from enum import StrEnum

import attrs

from evpack.base.brief import brief, cut
from evpack.base.finding import Finding, Severity
from evpack.describe.build import Build
from evpack.outcome.figures import PackFigures
from evpack.outcome.protection import ProtectionSchedule
from evpack.outcome.settings import SettingsSheet
from evpack.outcome.sharing import Sharing
from evpack.outcome.solar import SolarSide
from evpack.outcome.usable import UsableWindow

_WHOLE = "The whole of it: print(evpack.as_text({}))"


@attrs.frozen(kw_only=True, eq=False)
class Design:
    """One build, carried through every step; a part is None where it could not be worked out."""

    build: Build
    figures: PackFigures | None
    settings: SettingsSheet | None
    usable: UsableWindow | None
    sharing: Sharing | None
    protection: ProtectionSchedule | None
    solar: tuple[SolarSide, ...] = ()
    findings: tuple[Finding, ...]

    __repr__ = brief

    def __str__(self) -> str:
        return f"{self.build.title}: {len(self.findings)} findings. {_WHOLE.format('design')}"

    def of(self, severity: Severity) -> tuple[Finding, ...]:
        """Return the findings of one severity."""
        return tuple(f for f in self.findings if f.severity is severity)

    def found_from(self, least: Severity) -> set[tuple[str, str]]:
        """Return what was found as bad as this, or worse: the keys of rules, and about what."""
        return {(f.rule.key, f.about) for f in self.findings if f.severity >= least}


class Verdict(StrEnum):
    """The four answers."""

    WORKS = "works"
    WORKS_WITH_LIMITS = "works with limits"
    DOES_NOT_WORK = "does not work"
    CANNOT_TELL_YET = "cannot tell yet"


@attrs.frozen(kw_only=True, eq=False)
class Decision:
    """The verdict on a design.

    `held_by` are the findings that hold it up, each with what would clear it; `limits` those
    that it works under.
    """

    verdict: Verdict
    design: Design
    held_by: tuple[Finding, ...]
    limits: tuple[Finding, ...]

    def __repr__(self) -> str:
        held, limits = len(self.held_by), len(self.limits)
        title = cut(self.design.build.title)
        return f"<Decision {title!r}: {self.verdict}, held by {held}, limits {limits}>"

    def __str__(self) -> str:
        found = (str(finding) for finding in self.held_by + self.limits)
        title = self.design.build.title
        return "\n".join((f"{title}: {self.verdict}", *found, _WHOLE.format("decision")))

    @property
    def go(self) -> bool:
        """Return whether the pack may be built, with or without limits."""
        return self.verdict in {Verdict.WORKS, Verdict.WORKS_WITH_LIMITS}
