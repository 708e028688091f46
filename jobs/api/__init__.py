"""The visit for programs: the same services and rules as the pages."""
