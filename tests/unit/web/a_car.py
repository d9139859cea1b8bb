"""A small car.toml, with what must never become markup."""

CAR = """format = 1

[car]
name = "Test Estate"
complaint = ["boost climbs", "<b>worse</b> in the cold"]

[engine]
displacement = "2 L"
cylinders = 4
"""
