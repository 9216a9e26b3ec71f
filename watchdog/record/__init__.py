"""The incident log: one SQLite file that holds alarms, states, jobs, incidents and the outbox."""
