"""What a recording says about its own logger, sensors and driving: findings, never corrections in silence."""
