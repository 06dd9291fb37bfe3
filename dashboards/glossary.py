"""The help text and the glossary: how to read the pages, and what the words mean."""

from dashboards.formats import shown_unit
from dashboards.help import HelpView, Term, Topic
from dashboards.words import CAUSES, CHANGES, GAP_MEANING, GAPS, SHAPES, STATES, STATUS, URGENCY, Words
from ingest.parameters import FUEL_SYSTEM, PARAMETERS, Parameter

_URGENCY_MEANING: Words = {
    "pull_in_now": "It should come in at once: likely and grave enough, or already past a limit.",
    "plan_this_week": "It should come in this week, on a day that suits.",
    "watch": "Something moved, too little or on too little evidence for a visit; or a repair awaits proof.",
    "steady": "Enough good readings, and nothing moved.",
    "cannot_say": "Too few, too old or unusable readings. It is not counted as good.",
}

_STATE_MEANING: Words = {
    "koeo_soak": "Key on, engine off, after standing for as long as the sheet asks. "
    "Temperatures should agree, and the battery shows its resting voltage.",
    "koeo": "Key on, engine off. Manifold pressure should equal the outside air's.",
    "crank": "The starter is turning the engine.",
    "cold_idle": "Running, at rest, not yet warm.",
    "warm_idle": "Running, at rest, warm, in closed loop where the vehicle has it.",
    "cruise": "Driving steadily, warm.",
}

_STATUS_MEANING: Words = {
    "raised": "New; nobody has taken it on.",
    "accepted": "Someone will see to it; a date may be given.",
    "in_work": "Somebody is at it.",
    "done": "Repaired; readings must prove it, or the time for proof runs out.",
    "verified": "Readings after the repair show that it worked.",
    "dismissed": "Closed without a repair, with a reason.",
    "deferred": "Put off until a day; comes back by itself, earlier when it gets worse.",
    "reopened": "The repair did not cure it, or somebody opened it again.",
}

_STANDARD = PARAMETERS["RPM"].source

_READING: tuple[tuple[str, str], ...] = (
    (
        "Spec sheet",
        "Limits of one vehicle type, with source and revision. Without a sheet no limit is shown or judged.",
    ),
    (
        "Own baseline",
        "The vehicle's own normal: fixed readings after its last repair or reset. It does not creep.",
    ),
    ("Like vehicles", "Vehicles on the same sheet, at least eight; the middle 80 % of them is shown."),
    ("Series", "One vehicle, one parameter, one operating state. States are never mixed."),
    ("Drift", "How far the level moves in a week, with the range that holds it in 80 of 100 cases."),
    (
        "Probability in 30 days",
        "That the vehicle gives a drivability complaint or leaves its limits within 30 days.",
    ),
    (
        "False tickets",
        "The fleet says how many it will stand for 100 vehicle-months; every threshold follows from that.",
    ),
    (
        "Fleet event",
        "A shift that like vehicles share, such as fuel or weather: one notice, not many tickets.",
    ),
    ("As closed, as known now", "A week's report as it was frozen, or the same week with late readings."),
    ("As of", "Only what had been received, was in force and was known by that day."),
)


def help_view() -> HelpView:
    """Build the help page: how to read, then every word that pages use."""
    return HelpView(
        topics=(
            Topic(
                anchor="reading",
                heading="How to read the pages",
                text="Every page says first, in a sentence, what matters. Everything below it is the reason. "
                "A ticket is a suspicion from data, not a verdict: a person confirms it.",
                terms=tuple(Term(word=word, meaning=meaning) for word, meaning in _READING),
            ),
            _topic("standing", "Where a vehicle stands", _shaped(), _URGENCY_MEANING),
            _topic("status", "Where a ticket stands", STATUS, _STATUS_MEANING),
            _topic("states", "Operating states", STATES, _STATE_MEANING),
            _topic("gaps", "Why a vehicle cannot be judged", GAPS, GAP_MEANING),
            Topic(
                anchor="changes",
                heading="Why a vehicle stands elsewhere than last week",
                text="Each change names one main reason: " + ", ".join(CHANGES.values()).lower() + ".",
                terms=(),
            ),
            Topic(
                anchor="causes",
                heading="Causes",
                text="What a pattern may come from: " + "; ".join(CAUSES.values()) + ".",
                terms=(),
            ),
            Topic(
                anchor="parameters",
                heading="Parameters",
                text="Codes with the range that a sensor can send, in the default unit. "
                f"Where nothing else is said they come from {_STANDARD}.",
                terms=tuple(
                    Term(word=code, meaning=_parameter_words(known)) for code, known in PARAMETERS.items()
                ),
            ),
        )
    )


def words_view() -> HelpView:
    """Build the glossary alone."""
    return HelpView(topics=help_view().topics[1:])


def _parameter_words(known: Parameter) -> str:
    source = "" if known.source == _STANDARD else f" ({known.source})"
    if known.kind == "code":
        return f"{known.quantity}: {', '.join(FUEL_SYSTEM)}{source}"
    if known.kind == "flag":
        return f"{known.quantity}: true or false{source}"
    span = f"{known.quantity}, {known.low:g} to {known.high:g} {shown_unit(known.unit)}"
    return f"{span.rstrip()}{source}"


def _shaped() -> Words:
    return {code: f"{SHAPES[code]} {word}" for code, word in URGENCY.items()}


def _topic(anchor: str, heading: str, words: Words, meanings: Words) -> Topic:
    return Topic(
        anchor=anchor,
        heading=heading,
        text="",
        terms=tuple(Term(word=word, meaning=meanings[code]) for code, word in words.items()),
    )
