"""MQTT: what the machines do, told to a broker, and what comes back from it."""
