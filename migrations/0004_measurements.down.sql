DROP TABLE strikes, settings_in_force_values, settings_in_force, measurement_settings, readings, measurements, power_ups;
