"""What the log shows of the store: heat accounts, and whether it helped. Pure."""
