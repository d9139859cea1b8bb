"""From evidence to the probabilities of every hypothesis, with candidates of each."""
