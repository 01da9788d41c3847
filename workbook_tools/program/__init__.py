"""What is to be built, where and by whom: the setup, its model and its checks."""
