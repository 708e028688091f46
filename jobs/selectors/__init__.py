"""What may be seen of visits; every read starts from the member."""
