"""The sign log: rubs, scrapes, beds; what is taken down, and when it may have been made."""
