"""Digital thermometers on a 1-Wire bus, as Linux shows them under /sys."""
