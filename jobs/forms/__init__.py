"""What people type into the pages of a visit."""
