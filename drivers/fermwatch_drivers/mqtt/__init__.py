"""Readings that others publish to an MQTT broker. Speaks through aiomqtt, the later name of asyncio-mqtt.

Subscribes with QoS 1 in a persistent session and acknowledges what is committed, so that neither a crash of ours nor
a cut connection loses a message that the broker has. Known limits:
- What the broker itself forgets is lost: mosquitto keeps sessions in memory unless `persistence true`, saves them
  only every `autosave_interval`, and drops what exceeds `max_queued_messages` (1,000) while the watcher is away.
- A message delivered twice is known by device time or running number, else by its packet identifier and value within
  one session: no proof where a broker gives the lowest free identifier instead of counting, but all that MQTT offers.
- Publish with QoS 1: messages with QoS 0 may be lost anywhere, and are when they come faster than they can be stored.
- Shared subscriptions, websockets and client certificates are not supported.
"""
