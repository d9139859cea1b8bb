"""Steps from every released form of the database to the present one."""
