"""The shell: settings, clock, store, HTTP, schedule, tickets, keys and command line."""
