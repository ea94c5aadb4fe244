"""What each form asks, as a table. A field bears the name of the text command's own option, which reads and checks it:
no form checks anything itself.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from fermwatch.science.carbonation import SUGARS
from fermwatch.science.packages import PACKAGES
from fermwatch.science.yeasts import YEASTS

Said = str | bool | list[str]
Choices = tuple[tuple[str, Said], ...]

NOT_SAID = "not said yet", ""  # before what safety rests on: it is said, never there by itself
YES_NO: Choices = (("no", False), ("yes", True))
WHEN = "now, 21:30, yesterday 21:30"
_VOIDING = re.compile(r"fermwatch (?:measure|note) void \S+")
_OPTION = re.compile(r"--([a-z][a-z-]*)")


@dataclass(frozen=True, slots=True)
class FormField:
    """name: of the command's option. label: before it. example: shown in it while nothing is typed.

    choices: the words to choose from, with what each says; none for what is typed.
    only_for: what the form's first field must say for this to be asked; empty for whatever it says.
    listed: whether the option takes a list.
    """

    name: str
    label: str
    example: str = ""
    choices: Choices = ()
    only_for: tuple[str, ...] = ()
    listed: bool = False

    def said(self, typed: str) -> Said:
        if self.choices:
            return dict(self.choices)[typed]
        return [typed] if self.listed else typed


@dataclass(frozen=True, slots=True)
class FormKind:
    """command: that reads it (commands/written_in.py). title: what is done. purpose: where it is chosen."""

    command: str
    title: str
    purpose: str
    fields: tuple[FormField, ...]

    def asked(self, values: Mapping[str, str]) -> tuple[FormField, ...]:
        """The fields that there are, by what the first of them says."""
        first = self.fields[0] if self.fields else None
        picked = first.said(values[first.name]) if first is not None and first.choices and first.name in values else ""
        return tuple(one for one in self.fields if not one.only_for or picked in one.only_for)

    def said(self, values: Mapping[str, str]) -> dict[str, Said]:
        """What is said, by the command's options: what was left empty is not."""
        typed = ((one, values.get(one.name, "").strip()) for one in self.asked(values))
        said = {one.name: one.said(value) for one, value in typed if value}
        return {name: value for name, value in said.items() if value != ""}

    def started(self, before: Mapping[str, str]) -> dict[str, str]:
        """What stands in the fields at first: what was typed before, else the first of each choice."""
        found = {one.name: one.choices[0][0] for one in self.fields if one.choices}
        known = {one.name for one in self.fields}
        return found | {name: value for name, value in before.items() if name in known}

    def in_its_words(self, text: str) -> str:
        """A command's sentence with the form's labels where it names options, and with keys where it names commands."""
        text = _VOIDING.sub("e, then n to it, then x", text)
        named = (one for one in self.fields if NOT_SAID not in one.choices)  # of those its words are the choice
        labels = {one.name.replace("_", "-"): one.label for one in named}
        return _OPTION.sub(lambda found: f'"{labels[found[1]]}"' if found[1] in labels else _plain(found[1]), text)


def _plain(option: str) -> str:
    """Of an option that is no field of its own, as one of several words to choose from."""
    return option.replace("-", " ")


def _words(*said: str) -> Choices:
    return tuple((one, one) for one in said)


AT = FormField("at", "when", WHEN)
TEXT = FormField("text", "your words", "", listed=True)

MEASURE = FormKind(
    "measure",
    "Gravity by hand",
    "a gravity by hand",
    (
        FormField("instrument", "read with", choices=_words("hydrometer", "refractometer")),
        FormField("reading", "reading", "1.012, 3.1P, 6.2Bx"),
        FormField("sample", "sample at", "21C"),
        FormField("degassed", "gas stirred out", choices=YES_NO, only_for=("hydrometer",)),
        AT,
        FormField("water_check", "in water reads", "1.001: of this instrument, at 20C"),
        FormField("original_brix", "wort read", "12.4, before the yeast", only_for=("refractometer",)),
    ),
)
_NOTED: Choices = (
    ("taste", "taste"),
    ("smell", "smell"),
    ("look", "look"),
    ("remark", "remark"),
    ("signs of life", "signs-of-life"),
    ("kräusen stands high", "krausen-up"),
    ("kräusen has fallen", "krausen-fallen"),
    ("warm-sample test", "diacetyl-test"),
    ("forced ferment ended", "forced-ferment"),
    ("how warm it stands", "stands-at"),
    ("racked", "transfer"),
    ("a part taken away", "split"),
)
_FORCED = ("forced-ferment",)
NOTE = FormKind(
    "note",
    "Seen, smelt, tasted or done",
    "what you saw, smelt, tasted or did",
    (
        FormField("what", "what", choices=_NOTED),
        FormField(
            "passed", "butter smelt", choices=(NOT_SAID, ("no", True), ("yes", False)), only_for=("diacetyl-test",)
        ),
        FormField("gravity", "ended at", "1.010, degassed", only_for=_FORCED),
        FormField("sample", "sample at", "23C, when it was read", only_for=_FORCED),
        FormField("kept_at", "fermented at", "25C", only_for=_FORCED),
        FormField("other_yeast", "another yeast", choices=YES_NO, only_for=_FORCED),
        FormField("temperature", "stands at", "19C", only_for=("stands-at",)),
        FormField("since", "since", "yesterday 18:00", only_for=("stands-at",)),
        TEXT,
        AT,
    ),
)
IN_PACKAGE = FormKind(
    "note",
    "Of the packaged beer",
    "what you opened, tasted or did",
    (
        FormField(
            "what",
            "what",
            choices=(
                ("opened one, cold", "opened"),
                ("taste", "taste"),
                ("smell", "smell"),
                ("look", "look"),
                ("vented all, cold", "vented"),
                ("remark", "remark"),
            ),
        ),
        FormField(
            "gushed", "how it was", choices=(NOT_SAID, ("calm", False), ("it gushed", True)), only_for=("opened",)
        ),
        FormField("after_warm", "stood warm", "14d, before it was chilled", only_for=("opened",)),
        TEXT,
        AT,
    ),
)
_BY_MASS = ("dry-hop", "sugar", "fruit")
ADD = FormKind(
    "add",
    "Into the beer",
    "hops, sugar, fruit or a blend",
    (
        FormField(
            "what",
            "what",
            choices=(("hops", "dry-hop"), ("sugar", "sugar"), ("fruit", "fruit"), ("another beer", "blend")),
        ),
        FormField("grams", "how much", "60, 1.2kg, 2oz", only_for=_BY_MASS),
        FormField("volume", "how much", "2L", only_for=("blend",)),
        FormField("name", "which", "its name: sucrose, honey, raspberries"),
        TEXT,
        AT,
    ),
)
_WARM_OR_COLD = ("rest", "ramp", "crash")
DECLARE = FormKind(
    "note",
    "Warm or cold on purpose",
    "a rest, a ramp or a crash that is meant",
    (
        FormField(
            "what",
            "what",
            choices=(
                ("rest", "rest"),
                ("crash", "crash"),
                ("slow change", "ramp"),
                ("over: back to its range", "back-to-range"),
            ),
        ),
        FormField("target", "at or to", "17C (a crash: 2C)", only_for=_WARM_OR_COLD),
        FormField("by", "there by", "3d, 36h, 2026-03-12", only_for=("ramp",)),
        FormField("until", "until", "3d; empty: until you end it", only_for=_WARM_OR_COLD),
        TEXT,
        AT,
    ),
)
OPEN = FormKind(
    "open",
    "Yeast is pitched",
    "a new batch: yeast is pitched",
    (
        FormField("name", "name", "what you call the beer"),
        FormField("vessel", "fermenter", "as the configuration names it"),
        FormField("og", "original", "1.052, 12.9P, 13.4Bx"),
        FormField("og_by", "read with", choices=_words("hydrometer", "refractometer")),
        FormField("origin", "how known", choices=_words("measured", "topped-up", "recipe")),
        FormField("sample", "sample at", "23C"),
        FormField("volume", "beer", "19L"),
        FormField("yeast", "yeast", choices=tuple((one.name, one.slug) for one in YEASTS.values())),
        FormField("yeast_name", "you call it", ""),
        FormField("pitched_at", "when", WHEN),
        FormField("package", "meant for", choices=(("not known yet", ""),)),
        FormField("volumes", "volumes", "2.4"),
        FormField("notes", "notes", ""),
    ),
)
_PACKAGES: Choices = tuple((one.name, one.slug) for one in PACKAGES.values() if not one.refused)
PACKAGE = FormKind(
    "package",
    "Packaging day",
    "packaging day: sugar, pressure, risk",
    (
        FormField("package", "into", choices=_PACKAGES),
        FormField("volumes", "volumes", "2.4"),
        FormField("volume", "beer", "18.2L, measured in the bucket"),
        FormField("bottles", "bottles", "how many"),
        FormField("way", "keg gets CO2", choices=(("cylinder", "forced"), ("sugar", "primed")), only_for=("keg",)),
        FormField("sugar", "sugar", choices=tuple((one.name, one.slug) for one in SUGARS.values())),
        FormField("dose", "dose", "6.2g/L as weighed; empty: reckoned"),
        FormField("storage", "stands at", "25C at the warmest"),
        FormField("warmest", "was warmest at", "21C since it fermented; empty: by the probe"),
        AT,
    ),
)
VOID = FormKind("void", "Take it back", "take back the last entry", ())

OPEN = FormKind(
    OPEN.command,
    OPEN.title,
    OPEN.purpose,
    tuple(
        FormField(one.name, one.label, choices=(*one.choices, *_PACKAGES)) if one.name == "package" else one
        for one in OPEN.fields
    ),
)

FORMS: Mapping[str, FormKind] = {
    "measure": MEASURE,
    "note": NOTE,
    "in-package": IN_PACKAGE,
    "add": ADD,
    "declare": DECLARE,
    "package": PACKAGE,
    "open": OPEN,
    "void": VOID,
}


def form_of(kind: str, instruments: Mapping[str, str]) -> FormKind:
    """The form of that name, in which this person's own instruments go before others. instruments: their kinds, by
    their names."""
    form = FORMS[kind]
    return replace(form, fields=tuple(_with_own(one, instruments) for one in form.fields)) if instruments else form


def _with_own(asked: FormField, instruments: Mapping[str, str]) -> FormField:
    if asked.name == "instrument":
        return replace(asked, choices=(*_words(*instruments), *asked.choices))
    named = tuple(name for name, kind in instruments.items() if kind in asked.only_for)
    return replace(asked, only_for=(*asked.only_for, *named))
