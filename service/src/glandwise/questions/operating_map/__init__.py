"""Where over two numbers of its duty a seal lives."""
