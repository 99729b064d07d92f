"""What is asked and what is answered, one module a question."""
