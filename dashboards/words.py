"""The wording catalogue: every word and sentence that stands for a code, under one name for pages.

What the setup says stands in `dashboards.setup.terms`, standing sentences in `dashboards.standing`.

A code without an entry is shown as it is, with spaces for underscores, so that a page never fails over
a word; tests hold the known codes and these tables together.
"""

from collections.abc import Mapping
from typing import Final

from dashboards.setup.terms import (
    AREAS,
    FIELDS,
    GAP_CELLS,
    HELD,
    KINDS,
    LOADED,
    PARTS,
    RETENTION,
    ROLE_MAY,
    SCOPES,
    SHEET_STANDINGS,
    STANDINGS,
    TASKS,
    TOKEN_SCOPES,
)
from dashboards.standing import SENTENCES
from ingest.parameters import PARAMETERS

__all__ = [
    "AREAS",
    "FIELDS",
    "GAP_CELLS",
    "HELD",
    "KINDS",
    "LOADED",
    "PARTS",
    "RETENTION",
    "ROLE_MAY",
    "SCOPES",
    "SENTENCES",
    "SHEET_STANDINGS",
    "STANDINGS",
    "TASKS",
    "TOKEN_SCOPES",
]

Words = Mapping[str, str]

URGENCY: Final[Words] = {
    "pull_in_now": "Pull in now",
    "plan_this_week": "Plan this week",
    "watch": "Watch",
    "steady": "Steady",
    "cannot_say": "Cannot say",
}
"""The five words a vehicle is given, the most urgent first."""

SHAPES: Final[Words] = {
    "pull_in_now": "▲",
    "plan_this_week": "◆",
    "watch": "●",
    "steady": "○",
    "cannot_say": "?",
}
"""A shape for each word, so that colour never speaks alone."""

STATES: Final[Words] = {
    "koeo_soak": "key on, engine off, after a soak",
    "koeo": "key on, engine off",
    "crank": "cranking",
    "cold_idle": "cold idle",
    "warm_idle": "warm idle",
    "cruise": "cruise",
}

STATUS: Final[Words] = {
    "raised": "Raised",
    "accepted": "Accepted",
    "in_work": "In work",
    "done": "Done, awaiting proof",
    "verified": "Verified",
    "dismissed": "Dismissed",
    "deferred": "Deferred",
    "reopened": "Reopened",
}

CAUSES: Final[Words] = {
    "unmetered_air": "unmetered air (vacuum leak)",
    "fuel_delivery_low": "fuel delivery too low",
    "air_meter_low": "air meter reads less than flows",
    "injector_restricted": "restricted injector",
    "purge_flow_stuck": "vapour purge flows when it should not",
    "fuel_pressure_high": "fuel pressure too high",
    "exhaust_leak_ahead_of_sensor": "exhaust leak ahead of the oxygen sensor",
    "throttle_deposits": "deposits in the throttle bore",
    "load_switch_stuck": "an idle-load switch reads on all the time",
    "charging_low": "charging too low",
    "charging_high": "charging too high",
    "battery_ageing": "ageing battery",
    "voltage_drop": "voltage drop in cables or connections",
    "coolant_sensor_bias": "coolant temperature sensor reads wrong",
    "air_sensor_bias": "intake air temperature sensor reads wrong",
    "thermostat_open": "thermostat stays open",
    "map_sensor_bias": "manifold pressure sensor reads wrong",
    "oxygen_sensor_slow": "slow oxygen sensor",
    "unknown": "something else",
}

WORK: Final[Words] = {
    "repair": "Repair",
    "no_fault_found": "Inspected, no fault found",
    "memory_cleared": "Learned values cleared",
    "battery_replaced": "Battery replaced",
    "complaint": "Driver's complaint",
    "note": "Note",
}

AXES: Final[Mapping[str, str]] = {"km": "odometer [km]", "hours": "engine hours seen, at least [h]"}
"""What pictures run by, where not by date."""

MARKS: Final[Words] = {
    **WORK,
    "first_data": "First readings",
    "logger_changed": "Logger changed",
    "computer_changed": "Engine computer changed",
    "break_found": "New level, found in the data",
    "moved": "Came to live at another height",
    "returned": "Back to normal with no repair on record",
}
"""What a mark on a chart, or the beginning of a baseline, says."""

EXCLUDED: Final[Words] = {
    "before_repair": "before the present baseline began",
    "relearning": "engine computer still learning",
    "open_loop": "not in closed loop",
    "wrong_state": "wrong operating state",
    "load_on": "an idle load was on",
    "quarantined": "not believable",
    "stuck": "sensor at its end of range",
    "single_odd": "single odd reading",
    "not_comparable": "not comparable",
}
"""Why a reading does not count."""

CHANGES: Final[Words] = {
    "new_readings": "New readings",
    "late_readings": "Late readings",
    "repair": "Repair",
    "memory_cleared": "Learned values cleared",
    "sheet_revised": "Sheet revised",
    "model_revised": "Model revised",
    "costs_revised": "Costs revised",
    "data_stopped": "Data stopped",
    "data_back": "Data back",
    "ticket_moved": "Ticket moved on",
    "in_service": "New in service",
    "out_of_service": "Out of service",
}
"""Why a vehicle stands elsewhere than last week."""

HOLDING: Final[Words] = {
    "not_accepted": "not accepted yet",
    "no_date": "no date given",
    "booked": "booked, not started",
    "parts": "waiting for parts",
    "vehicle_away": "vehicle away",
    "in_work": "in work",
    "awaiting_proof": "awaiting proof",
}
"""What holds a ticket that is past due."""

GAPS: Final[Words] = {
    "silent": "Silent",
    "partial": "Partial",
    "unusable": "Unusable",
    "learning": "Learning",
    "off_road": "Off the road",
}

GAP_MEANING: Final[Words] = {
    "silent": "no reading for twice the vehicle's usual gap, or longer",
    "partial": "a needed operating state is missing",
    "unusable": "readings were set aside or turned away",
    "learning": "too few readings for a baseline yet; the sheet's limits are checked already",
    "off_road": "left out of every count until it is back",
}

COVERAGE: Final[Words] = {
    "no_data": "Never sent a reading",
    "no_recent_data": "Silent: no reading for twice its usual gap or longer",
    "silent": "Silent: no reading for twice its usual gap or longer",
    "state_missing": "A needed operating state is missing",
    "no_usable_state": "No reading in a known operating state",
    "finding": "A finding is under watch",
    "no_warm_idle": "Never at warm idle: switched off too early",
    "no_cruise": "Never at cruise: short trips only",
    "no_soak": "No reading after a full soak",
    "quarantined": "Readings set aside as not believable",
    "rejected": "Readings could not be read",
    "learning": "Too few readings for a baseline",
    "soak_unknown": "Sheet does not give the soak time: check not done",
    "off_road": "Off the road",
}
"""Why a vehicle cannot be judged."""

ACTORS: Final[Words] = {
    "silent": "whoever looks after the loggers",
    "partial": "the driver's routine: one drive of the kind named",
    "unusable": "the integrator",
    "learning": "nobody: time will do it",
    "off_road": "nobody",
}
"""Who must act on a gap."""

HELD_BACK: Final[Words] = {
    "supply_voltage": "held back: supply voltage is looked at first",
    "temperatures_disagree": "held back: coolant and intake air disagree after a soak",
    "not_closed_loop": "held back: closed loop is not reached",
    "too_few_days": "held back: seen on too few days",
    "shared": "held back: like vehicles moved together",
    "relearning": "held back: the engine computer is still learning",
    "quiet_after_inspection": "held back: inspected lately, no stronger since",
    "single_odd": "single odd reading",
    "unchanged": "held back: sensor or logger, which has said the same for weeks",
    "no_sheet": "capped at Watch: no spec sheet",
    "second_opinion_only": "second opinion only: an odd mixture beside its like, no cause named",
}
"""Why a finding may not become a ticket."""

EVENTS: Final[Words] = {
    "raise": "Raised",
    "evidence": "Evidence added",
    "update": "Judged again",
    "accept": "Accepted",
    "book": "Booked",
    "start": "Work started",
    "pause": "Paused",
    "record_repair": "Repair recorded",
    "record_no_fault": "No fault found recorded",
    "defer": "Put off",
    "return": "Back from being put off",
    "dismiss": "Dismissed",
    "rest": "Evidence eased: resting",
    "wake": "Evidence is back",
    "verify": "Verified by readings",
    "verify_by_hand": "Verified by hand",
    "not_cured": "Not cured: reopened",
    "time_out": "Closed without proof",
    "merge": "Merged",
    "undo": "Undone",
    "comeback": "Came back",
    "reopen": "Reopened",
    "assign": "Assigned",
    "comment": "Comment",
    "complaint": "Complaint logged",
    "pin": "Pinned in the plan",
    "unpin": "Pin taken off",
    "sheet_wrong": "Sheet said to be wrong",
    "record_memory": "Learned values cleared, recorded",
    "record_note": "Note recorded",
    "take_back": "Record taken back",
}

ACTIONS: Final[Words] = {
    "accept": "Accept",
    "book": "Give a date",
    "start": "Start work",
    "pause": "Pause",
    "record_repair": "Record a repair",
    "record_no_fault": "Record that nothing was found",
    "defer": "Put off",
    "dismiss": "Dismiss",
    "verify_by_hand": "Verify by hand",
    "merge": "Merge into another ticket",
    "undo": "Undo",
    "reopen": "Reopen",
    "comeback": "Raise again",
    "assign": "Assign",
    "comment": "Comment",
    "pin": "Pin in the plan",
    "unpin": "Take the pin off",
    "sheet_wrong": "The spec sheet is wrong",
}

REASONS: Final[Words] = {
    "sensor_or_logger": "sensor or logger, not the engine",
    "sheet_wrong": "the spec sheet is wrong",
    "fixed_elsewhere": "fixed elsewhere",
    "risk_accepted": "risk accepted",
    "evidence_eased": "evidence has eased",
    "vehicle_gone": "vehicle left the fleet",
    "no_fault_found": "no fault found",
    "inspected_nothing": "inspected, nothing found",
    "reader_disagrees": "the reader disagrees with the logger",
    "comes_and_goes": "comes and goes",
    "merged": "merged into another ticket",
    "parts": "waiting for parts",
    "vehicle_away": "vehicle away",
    "needed_on_the_road": "needed on the road",
    "next_service": "waits for the next service",
    "workshop_full": "the workshop is full",
    "not_fixed": "the trouble is still there",
    "closed_in_error": "closed in error",
    "own_reader": "checked with our own reader",
    "road_test": "checked on a road test",
}

NEEDS: Final[Words] = {
    "on": "Day",
    "hours": "Hours",
    "reason": "Reason",
    "other": "Number of the other ticket",
    "assignee": "Who takes it",
    "readings": "Readings it rests on",
    "note": "Note (no names)",
    "until": "Pinned until",
}
"""What an action's form asks for."""

CORRECTIONS: Final[Words] = {
    "usual": "the usual for it: repaired, new battery, or inspected only",
    "repair": "repaired",
    "battery_replaced": "battery replaced",
    "memory_cleared": "learned values cleared only",
    "note": "nothing done yet, a note",
}
"""What was done about a finding; the first is filled in."""

NOT_FOUND: Final[Words] = {
    "inspected_nothing": "inspected, nothing found",
    "reader_disagrees": "the reader disagrees with the logger",
    "comes_and_goes": "comes and goes, nothing found now",
}
"""Three ways of finding nothing."""

PLAN_WHY: Final[Words] = {
    "in_work": "in work already",
    "class_1": "may stall or not start",
    "past_due": "past due",
    "pinned": "pinned",
    "rank": "by rank",
}
"""Why a visit stands where it stands in the plan."""

PLAN_LEFT: Final[Words] = {
    "by_hand": "left out by you",
    "parts": "waiting for parts",
    "vehicle_away": "vehicle away",
    "hours_end": "the hours end before it",
}
"""Why a visit is not in the plan."""

COMPLAINTS: Final[Words] = {
    "stalls": "stalls",
    "hard_start": "hard to start",
    "rough_idle": "rough idle",
    "hesitates": "hesitates or lacks power",
    "lamp": "warning lamp on",
    "smell": "smell of fuel",
    "other": "something else",
}
"""What a driver may notice; chosen by us so that a complaint takes three taps and no typing."""

SORTS: Final[Words] = {
    "urgency": "most urgent first",
    "vehicle": "by number",
    "depot": "by depot",
    "last": "longest silent first",
}

DATASETS: Final[Words] = {
    "tickets": "every ticket with its evidence",
    "trends": "every followed series on the as-of date",
    "risk": "every vehicle's standing and probability",
    "budget": "the next twelve months' expected cost",
    "snapshots": "the readings themselves",
    "cost_per_cause": "what repairs have cost by cause, planned and unplanned",
    "track_record": "how tickets ended, each figure with its range",
}

FORMATS: Final[Words] = {
    "csv": "CSV",
    "json": "JSON",
    "parquet": "Parquet",
    "xlsx": "XLSX",
}

LINKS: Final[Words] = {
    "comeback_of": "Came back after",
    "comeback_by": "Came back as",
    "merged_into": "Merged into",
    "merged_from": "Took in",
    "not_cured": "Not cured by the work of",
}

JOBS: Final[Words] = {
    "nightly": "Nightly evaluation",
    "weekly": "Weekly report",
    "digest": "Weekly digest",
    "retain": "Removal of what is kept no longer",
}

OUTCOMES: Final[Words] = {
    "": "Running",
    "done": "Done",
    "failed": "Failed",
    "running": "Running",
    "skipped": "Not needed",
    "waiting": "Waiting",
}

BANNERS: Final[Words] = {
    "practice": "Practice data: this fleet is made up.",
    "stale": "The figures are older than they should be.",
    "failed": "The last evaluation failed; the last good figures are shown.",
    "saved": "Saved.",
    "refused": "Not saved.",
    "removed": "What this page was made from is no longer whole.",
}

SAVED: Final[Words] = {
    "role": "You now look around in another role.",
    "units": "Quantities are shown in the units you chose.",
    "costs": "The new figures are in force; the earlier revision is kept.",
    "accept": "The ticket is accepted.",
    "book": "The day is given.",
    "start": "Work has started.",
    "pause": "Work is paused; the due date stands.",
    "defer": "The ticket is put off.",
    "dismiss": "The ticket is dismissed. That can be undone for 24 hours.",
    "verify_by_hand": "The repair is verified by hand.",
    "merge": "The ticket is merged.",
    "undo": "The last step is undone.",
    "reopen": "The ticket is open again.",
    "assign": "The ticket has changed hands.",
    "comment": "The comment stands in the history.",
    "pin": "It stays in the plan.",
    "unpin": "The pin is off.",
    "sheet_wrong": "The integrator is told that the sheet may be wrong.",
    "finding": "What you found is recorded. It can be taken back for ten minutes.",
    "take_back": "The record is taken back.",
    "complaint": "The complaint is recorded; the next evaluation counts it.",
    "raised": "The ticket is raised.",
    "added": "A ticket is open for it already: what you saw is added to it.",
    "dates": "Every vehicle in the plan has its day.",
    "vehicle_added": "The vehicle is registered.",
    "vehicle_changed": "The vehicle's fields are as you gave them.",
    "vehicle_same": "The vehicle stood so already: nothing changed.",
    "off_road": "The days off the road are noted.",
    "vehicle_gone": "The vehicle is out of service; its open tickets end on that day.",
    "vehicle_back": "The vehicle is in service again.",
    "vehicle_erased": "The vehicle is erased. Totals of the fleet stay as they were.",
    "draft_kept": "The sheet is kept as a draft.",
    "draft_same": "That revision is on file already: nothing changed.",
    "draft_discarded": "The draft is discarded.",
    "sheet_in_force": "The revision is in force from that day on.",
    "name_mapped": "The name has a meaning now; stored snapshots are read again.",
    "name_changed": (
        "The name means something else from now on. Values that snapshots got before stay there."
    ),
    "name_ignored": "The name is listed no more; its values stay kept.",
    "name_heeded": "The name is listed again.",
    "token_ended": "The token ended at once.",
    "device_moved": "The device is noted in that vehicle.",
    "released": "The snapshot was let in.",
    "discarded": "The snapshot is listed no more.",
    "password": "Your password is changed. Every other sign-in of yours has ended.",
    "signed_out": "You are signed out.",
    "person": "Role and depot are changed.",
    "disabled": "The account is disabled, and its sign-ins have ended.",
    "enabled": "The account can sign in again.",
    "sessions": "All sign-ins of this person have ended.",
    "unlocked": "Tries for this login are allowed again.",
    "hold": "The vehicle is on hold.",
    "hold_lifted": "The hold is lifted.",
    "untied": "The next one who comes through the provider under this login is taken for its owner.",
}
"""What a page says after a form was taken, by the code in its address; behind the word Saved."""

ROLES: Final[Words] = {
    "viewer": "Viewer",
    "mechanic": "Mechanic",
    "lead": "Workshop lead",
    "manager": "Fleet manager",
    "analyst": "Analyst",
    "integrator": "Integrator",
    "admin": "Administrator",
}

SIGN_IN: Final[Words] = {
    "ended": "Your sign-in has ended. Sign in to go on.",
    "wrong": "Login and password do not fit, or the account cannot sign in.",
    "wait": "Too many tries.",
    "stale": "This page had been open too long. Try once more; cookies must be allowed.",
    "cancelled": "The provider says that you did not sign in there. Nothing was changed; you may try again.",
    "late": "That sign-in was over already, or was begun in another browser. Begin once more.",
    "away": "The sign-in provider does not answer. Try again in a minute, or sign in with a password.",
    "nonsense": "The sign-in provider's answer makes no sense. Tell an administrator; passwords still work.",
    "unproven": "The sign-in provider's answer does not prove who you are, so nobody is signed in.",
    "nobody": "The provider knows you, but nobody has registered you here. An administrator does that.",
    "disabled": "The provider knows you, but your account here is disabled. Ask an administrator.",
    "other_person": "Somebody else at the provider has used this login. An administrator can release it.",
    "under_way": "Too many sign-ins are under way from your network. Wait some minutes, then try again.",
}
"""Why the sign-in page is shown."""

LISTED: Final = 100
"""Lines of one kind that a page lists, with a way to the rest; chosen by us: a page that can be read."""


def say(table: Words, code: str) -> str:
    """Put a code into words; a code without an entry is shown with spaces.

    Examples
    --------
    >>> say(STATES, "warm_idle"), say(STATES, "hill_climb")
    ('warm idle', 'hill climb')
    """
    return table.get(code, code.replace("_", " "))


def quantity_name(parameter: str) -> str:
    """Name a parameter in plain words, its code behind.

    Examples
    --------
    >>> quantity_name("VPWR")
    'control module voltage (VPWR)'
    """
    known = PARAMETERS.get(parameter)
    return f"{known.quantity} ({parameter})" if known else parameter
