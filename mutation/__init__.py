"""`make mutate`: whether the tests notice when the code is made wrong."""
