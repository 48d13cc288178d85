"""What every other room needs to speak about text: where it stands, what is wrong with it, how to show it safely."""
