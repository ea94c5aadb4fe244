"""A form as it stands, and what each event makes of it. Pure: what was typed is a value, and so is what is asked."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import Enum, auto

from fermwatch.dashboard.forms.table import FormKind, form_of
from fermwatch.desk.prepared import Prepared


class Stage(Enum):
    FILLING = auto()
    LOOKING = auto()  # the store is looked at for what it makes of it
    ASKING = auto()  # it is shown as it would stand, and asked about
    KEEPING = auto()  # it is on its way into the inbox


@dataclass(frozen=True, slots=True)
class Draft:
    """What was typed into which form of which batch."""

    kind: str
    subject: str
    values: Mapping[str, str]

    @property
    def place(self) -> tuple[str, str]:
        return self.kind, self.subject


@dataclass(frozen=True, slots=True)
class OpenForm:
    """subject: identity of the batch; of a new one, the fermenter. about: as it is called.

    fixed: what is said with it that nobody types, by the command's options. wrong: why it is not taken as typed.
    instruments: the kinds of this person's own, by their names.
    """

    draft: Draft
    about: str
    fixed: Mapping[str, str]
    stage: Stage = Stage.FILLING
    wrong: str = ""
    prepared: Prepared | None = None
    instruments: Mapping[str, str] = field(default_factory=dict)

    @property
    def kind(self) -> FormKind:
        return form_of(self.draft.kind, self.instruments)

    @property
    def said(self) -> dict[str, str | bool | list[str]]:
        return {**self.kind.said(self.draft.values), **self.fixed}

    def typed(self, name: str, value: str) -> "OpenForm":
        """What is typed while the store is looked at goes before its answer; what is on its way is not changed."""
        if self.stage is Stage.KEEPING or self.draft.values.get(name, "") == value:
            return self
        draft = replace(self.draft, values={**self.draft.values, name: value})
        return replace(self, draft=draft, stage=Stage.FILLING, wrong="", prepared=None)

    def looking(self) -> "OpenForm":
        return replace(self, stage=Stage.LOOKING, wrong="", prepared=None)

    def looked(self, prepared: Prepared) -> "OpenForm":
        """Asked about; what asks nobody, and says nothing to mind, goes on its way at once."""
        shown = prepared.question or prepared.minded or prepared.to_do
        stage = Stage.ASKING if shown else Stage.KEEPING
        return replace(self, stage=stage, prepared=prepared)

    def keeping(self) -> "OpenForm":
        return replace(self, stage=Stage.KEEPING)

    def refused(self, why: str) -> "OpenForm":
        return replace(self, stage=Stage.FILLING, wrong=why, prepared=None)

    def back(self) -> "OpenForm | None":
        """From the question to the fields; from there, or where there are none, out of it."""
        asking = self.stage in {Stage.ASKING, Stage.LOOKING} and bool(self.kind.fields)
        return replace(self, stage=Stage.FILLING, prepared=None) if asking else None
