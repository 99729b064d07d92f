"""Does the seal fit its gland, stay put in it, and bridge the gap behind it?"""
