"""The wording catalogue: every word and sentence that stands for a code, in one place.

A code without an entry is shown as it is, with spaces for underscores, so that a page never fails over
a word; tests hold the known codes and these tables together.
"""

from collections.abc import Mapping
from typing import Final

from ingest.parameters import PARAMETERS

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

TASKS: Final[Words] = {
    "without_sheet": "Vehicles without a spec sheet, so without limits",
    "unknown_sheet": "Vehicles that name a sheet not on file",
    "drafts": "Draft sheets that wait for a second person",
    "sheet_wrong": "Sheets that a mechanic says are wrong",
    "names": "Names that nobody knows",
    "held": "Snapshots held back",
    "silent": "Silent vehicles: the logger sends nothing",
    "odometer_back": "Odometers that went back: changed or mistyped",
    "digest_failed": "Weekly digest that could not be mailed",
    "clocks": "Senders whose clock is more than five minutes off",
}
"""What the integrator is asked to mend; a number stands behind each."""

AREAS: Final[Words] = {
    "vehicles": "Vehicles",
    "sheets": "Spec sheets",
    "names": "Names of parameters",
    "devices": "Devices and tokens",
    "load": "Load a file",
    "held": "Held-back snapshots",
    "costs": "Costs",
    "people": "People",
    "retention": "What is kept, and how long",
}

RETENTION: Final[Words] = {
    "readings": "Readings, and what was held back or refused",
    "trends": "Daily summaries, trends and evaluations",
    "tickets": "Closed tickets and work records",
}
"""Classes of data that are kept for a time of their own."""

PARTS: Final[Words] = {
    "snapshot": "snapshots",
    "refusal": "held-back and refused items",
    "daily": "daily summaries",
    "trend": "trends, a vehicle and day each",
    "assessment": "evaluations, a day each",
    "ticket": "closed tickets",
    "work_record": "work records",
}
"""What retention removes, by the name of its table."""

FIELDS: Final[Words] = {
    "vehicle": "Vehicle number",
    "vin": "VIN",
    "spec_sheet": "Spec sheet",
    "depot": "Depot",
    "time_zone": "Time zone",
    "in_service_on": "In service from",
    "odometer_km": "Odometer",
    "notes": "Notes",
    "since": "First day",
    "until": "Last day",
    "gone": "First day out of service",
    "confirm": "Confirmation",
    "file": "File",
    "text": "Sheet",
    "kind": "What the file holds",
    "name": "Name",
    "scope": "What it may, or what it holds for",
    "scope_id": "Which sheet or device",
    "parameter": "Parameter",
    "unit": "Unit",
    "vehicles": "Vehicles",
    "device": "Device",
    "reason": "Reason",
}
"""Names of form fields, for the list of what was not taken."""

STANDINGS: Final[Words] = {
    "in_service": "In service",
    "later": "In service later",
    "off_road": "Off the road",
    "gone": "Out of service",
}

SHEET_STANDINGS: Final[Words] = {
    "draft": "Draft: counts for nothing yet",
    "in_force": "In force",
    "later": "In force later",
    "superseded": "Superseded",
}

GAP_CELLS: Final[Words] = {"given": "limit", "gap": "gap", "none": "does not apply"}

SCOPES: Final[Words] = {"device": "Device", "sheet": "Spec sheet", "fleet": "The whole fleet"}

TOKEN_SCOPES: Final[Words] = {
    "send": "send snapshots",
    "read": "read lists and exports",
    "work": "record work and move tickets",
    "admin": "everything, setup included",
}

KINDS: Final[Words] = {
    "vehicles": "Vehicles",
    "specs": "Spec sheets, as drafts",
    "aliases": "Names of parameters",
    "snapshots": "Snapshots",
    "work": "Work and complaints",
}
"""Kinds of files that pages take."""

LOADED: Final[Words] = {
    "added": "added",
    "changed": "changed",
    "same": "the same as before",
    "accepted": "accepted",
    "duplicates": "kept already",
    "quarantined": "held back, to be looked at",
    "rejected": "unreadable",
}
ROLE_MAY: Final[Words] = {
    "viewer": "reads",
    "mechanic": "reads, works tickets, records complaints",
    "lead": "as mechanic, plans the hours, takes files",
    "manager": "reads all, decides on tickets, plan, money",
    "analyst": "reads all, money, files",
    "integrator": "vehicles, sheets, names, devices",
    "admin": "everything in the setup, people, event log",
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

SENTENCES: Final[Words] = {
    "chart_key": (
        "Dot: a reading. Hollow: not counted. Ringed: came late. Cross: a day after weather, load switches "
        'and what like vehicles did together have been taken out; baseline and "now" are such values. '
        "Hatched: beyond the sheet's limits. Dashed: own baseline. Thin line: readings smoothed (EWMA 0.2). "
        "Tinted with dotted edges: like vehicles. Fan: where the limit is reached, 80 % of it."
    ),
    "help_stale": "Look at both versions, then decide again. Nothing was changed, nothing of yours is lost.",
    "help_failed": "The page Jobs names the cause.",
    "help_not_allowed": "Go back to the ticket and choose one of the steps allowed now. Nothing was changed.",
    "help_refused": "Go back and put right what is named above. Nothing was changed.",
    "in_other_hands": "Nothing here is yours or free.",
    "before_repair": "They count as before the repair: they prove nothing and reopen nothing.",
    "quiet_rule": (
        "That is an answer. No new ticket comes until the evidence is stronger than it was then, "
        "or a driver complains."
    ),
    "no_names": "No names, please: only what the vehicle does.",
    "no_hours": "Say how many hours the workshop has: without hours nothing can be planned.",
    "no_visits": "No vehicle asks for the workshop: there is nothing to plan.",
    "plan_is_a_list": (
        "This is the ordered list, cut where the hours end. It is not packed: a short visit further down "
        "does not overtake a long one."
    ),
    "no_distance": "Not by distance: none of these readings came with an odometer.",
    "no_engine_hours": (
        "Not by engine hours: none of these readings says how long the engine had run since its start "
        "(RUNTM)."
    ),
    "engine_hours_seen": (
        "Engine hours are added up from the time since each start. What an engine runs after the last "
        "snapshot of a run is not seen, so there are at least as many."
    ),
    "retention_rest": (
        "Open tickets, frozen weekly reports, the event log, vehicles, spec sheets and costs are kept for "
        "ever, and so is each vehicle's newest ticket. To erase one vehicle, open its page in the setup."
    ),
    "retention_after": (
        "Afterwards evaluations find the same, because summaries stay. But single readings of those days are "
        "on no picture and in no file; names mapped later, another soak time or another time zone change "
        "their summaries no more; readings that come late for them are refused. A backup still holds them."
    ),
    "hold_means": (
        "Of a vehicle on hold nothing is removed, neither by retention nor by erasure, until it is lifted."
    ),
    "kept_while_away": "Nothing you typed is lost: sign in, look it over, then send it again.",
    "signed_in_again": "You are signed in again. What you typed before has not been sent yet.",
    "files_lost": "Files cannot be carried along: open the page again and choose them there.",
    "draft_kept": "If that happens while you type, nothing is lost: you sign in and send it again.",
    "leaving": "If nothing happens, follow the link. You come back here once you have signed in there.",
    "provider_stays": "Signing out here does not sign you out there.",
    "forgotten": "No account, or a password forgotten? An administrator makes one and sets a new password.",
    "must_change": "Somebody else set your password. Choose your own; then every page opens.",
    "password_advice": (
        "Several words that do not belong together are easy to keep in mind and hard to guess. "
        "No kinds of characters are asked for."
    ),
    "password_once": (
        "A password that you set is shown once, works for seven days, and is replaced at the first sign-in."
    ),
    "nobody_signs_in": "Nobody signs in to the practice fleet, so nobody has an account here.",
    "help_nobody_signs_in": "To look around in another role, choose it at the top of the page.",
    "no_sign_ins": "No sign-in is on record yet.",
    "not_you": "A sign-in that was not yours? Change your password, which ends it; tell an administrator.",
    "no_log_lines": "No event fits.",
    "log_stays": "No event can be changed or removed; erasing a vehicle takes its number out.",
    "not_taken": "This form is of an earlier visit, so it was not taken. Nothing was changed.",
    "nothing_lost": "Nothing you typed is lost: look it over, then send it again.",
    "no_sheet": "No spec sheet: compared with its own history and like vehicles only.",
    "unknown_sheet": "Its spec sheet is not on file: compared with its own history and like vehicles only.",
    "conditions_unknown": (
        "Conditions unknown: air conditioning, steering load and gear are not reported at warm idle, so a "
        "load that is on can look like a change of the engine."
    ),
    "no_limit": "The sheet names no limit for this parameter in this state.",
    "few_peers": "Too few like vehicles to compare with (fewer than eight).",
    "nothing_changed": "Nothing changed since last week.",
    "not_compared": "What changed is worked out when the week closes.",
    "first_week": "This is the first week: there is nothing to compare with yet.",
    "no_past_due": "No ticket is past due.",
    "no_events": "No shift shared by like vehicles.",
    "no_costs": "No cost table is loaded: no sum is given; the order follows probability and consequence.",
    "no_readings": "No readings yet.",
    "no_trends": "No series is followed yet: readings in a known operating state are needed.",
    "no_tickets": "No ticket.",
    "no_work": "No work recorded.",
    "nothing_quarantined": "Nothing is set aside.",
    "nothing_rejected": "Nothing was turned away.",
    "all_judged": "Every vehicle in service can be judged.",
    "nothing_to_load": "Nothing in this file can be loaded.",
    "none_in_service": "No vehicle is in service yet.",
    "nothing_missing": "Nothing is missing.",
    "all_names_known": "Every name that came in is known.",
    "no_runs": "No job has run yet.",
    "no_upcoming": "No job is planned.",
    "suspicion": (
        "A ticket is a suspicion from data. A person confirms it before any part is changed. "
        "The maker's procedure always wins."
    ),
    "do_not_drive": "Not to be driven with a smell of fuel, a brake fault or overheating.",
    "no_checks": "No checks are listed: nothing points to a cause yet.",
    "no_chart": "Raised by hand: there is no series to show.",
    "too_few_to_say": "too few to say",
    "rows_none": "No rows fit: the file will have its headers and 0 rows.",
    "made_up_costs": "No costs are loaded: the figures are our own starting ones, made up, to be replaced.",
    "at_risk": (
        "Probability that the fault leads to a complaint within the horizon, times what an unplanned "
        "repair "
        "costs more than a planned one, over the likely causes. Repairs that await proof are left out. "
        "The range "
        "takes tickets as independent."
    ),
    "nothing_at_risk": "No open ticket: nothing is at risk that is known of.",
    "planned_means": (
        "Unplanned: within 30 days after a driver's complaint on the vehicle; planned: all others. Costs "
        "are those "
        "on record, labour at the cost table's rate; what a stop costs beside the workshop is on no "
        "record and "
        "not in them. Causes with fewer than five repairs stand together."
    ),
    "exposure": (
        "Distance from odometer readings and engine hours from the time since engine start, carried over "
        "to all "
        "vehicle-days in service; beside each the share of vehicle-days that it rests on. Each run counts "
        "up to its "
        "last reading, so the engine ran at least so long."
    ),
    "nothing_before": "Nothing was read in the days before: there is nothing to compare with.",
    "avoided": (
        "Sum, over verified tickets with a fault found, of the probability of a complaint within 30 days "
        "if nothing "
        "had been done, less complaints of the same causes that came. Tickets with nothing found add "
        "nothing. The "
        "range takes complaints as independent."
    ),
    "no_repairs": "No repair on record.",
    "no_budget": "No budget yet: it needs vehicles and a first reading.",
    "range_key": "Box: from the 10 % to the 90 % point. Thick bar: the median.",
    "tested": (
        "Each budget was made anew as of the day before its month, from repairs done and tickets as they "
        "stood by "
        "then, at the present prices."
    ),
    "tested_key": (
        "Box: budgeted, from the 10 % to the 90 % point; thick bar: the median. Dot: spent, inside the "
        "box. "
        "Diamond: spent, outside it."
    ),
    "not_tested": "Not yet: a month can be tested that began 60 days after the first reading, and is over.",
    "cumulative": (
        "Mean cumulative cost of one vehicle's repairs (Nelson's estimate), dotted its 95 % interval. "
        "Vehicles count "
        "as long as they were watched."
    ),
    "budget_method": (
        "Many years are simulated. Near term: each open ticket's repair falls into the months in which "
        "its limit "
        "date lies, or its booking, with its probability and after the wait that repairs here have had. "
        "Long term: "
        "the fleet's own rate of repairs, cause by cause and depot by depot, as uncertain as its history "
        "is short, "
        "and as clumped as repairs have come. Each repair costs what repairs of its cause have cost; the "
        "cost table "
        "counts while there are few. Means add up to the cent; percentage points do not."
    ),
    "track": "What nobody looked at counts nowhere: it is neither right nor wrong.",
    "reliability": (
        "Each upright: the 95 % interval of how often statements of that size came true; on the dashed "
        "line both "
        "agree. Dot: agrees; diamond: does not."
    ),
    "taught": (
        "Before any reading is seen each cause has a share; repairs that name a cause move it. Findings "
        "never move "
        "a limit."
    ),
    "doubtful": (
        "A sensor, a scale, the logger or the sheet is wrong, before the engine is. Findings on these series "
        "stay, with this remark."
    ),
    "numbers_now": (
        "These numbers are of the newest evaluation; an open ticket keeps those it was last written with."
    ),
    "numbers_then": "The numbers of this ticket are of",
    "numbers_elsewhere": (
        "it is written anew when something changes for it. The vehicle's page has the newest numbers."
    ),
    "map": "Each row is a vehicle, each column a week; the shape and the shade say where it stood.",
}
"""Standing sentences for states that must never be silent."""


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
