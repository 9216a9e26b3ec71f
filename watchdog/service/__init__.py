"""The service: each machine's line from its source through the core to the record, the outbox and the people."""
