"""Ways to people: a command, a topic on an MQTT broker, and whatever the library apprise can reach (an extra)."""
