"""What people see from afar: status and alarms over MQTT, the same status as a file. Nothing comes in."""
