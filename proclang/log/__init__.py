"""What a run leaves to be read: a log model folded from its entries, the markdown of it, and a second look at both."""
