"""What people see of a rehearsal: text, tables and pictures, of one or of several side by side."""
