"""From a simulated work to an answer: its list, the reason, what knowing more would bring."""
