"""What the distributions are made of: parts, licences, known vulnerabilities."""
