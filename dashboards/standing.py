"""Sentences for states that must never be silent, and for what pages always say."""

from collections.abc import Mapping
from typing import Final

SENTENCES: Final[Mapping[str, str]] = {
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
    "session_soon": "Nobody has used this sign-in for a while. It ends in",
    "session_last": "This sign-in has lasted as long as one may. It ends in",
    "session_send": "Send what you have typed, or sign in again after it: nothing is lost.",
    "session_over": (
        "Your sign-in has ended. What you typed stays on this page: send it, sign in, and send it again."
    ),
    "put_back": "What you typed here before, and never sent, is back in the form.",
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
    "practice_people": "No accounts: in the practice fleet nobody signs in, everybody chooses a role.",
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
    "vacuum_read": (
        "barometric pressure (BARO) of the same snapshot less this vacuum; without BARO kept as it came"
    ),
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
    "week_of_depot": (
        "Of a closed week the vehicles count that stood here then and still do. What like vehicles share was "
        "found in the whole fleet."
    ),
    "map": "Each row is a vehicle, each column a week; the shape and the shade say where it stood.",
}
"""By code, for templates and routes."""
