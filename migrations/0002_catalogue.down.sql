DROP TABLE limits, card_sources, stated_values, units, controls, modes, device_slugs, device_edits, devices;
