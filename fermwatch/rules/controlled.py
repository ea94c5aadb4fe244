"""The name of what is found where a controller is written to: it is found beside the device, not by a rule."""

NOT_WRITTEN = "set-point-not-written"
