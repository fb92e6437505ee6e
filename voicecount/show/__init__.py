"""What people see: conversation, tally, tables."""
