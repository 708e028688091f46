"""What all parts of the API share: reading requests, answering errors, paging lists."""
