"""What an enquiry leaves out: what to ask back, and how sure the verdict is without it."""
