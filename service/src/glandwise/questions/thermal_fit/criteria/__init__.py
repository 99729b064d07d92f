"""One file a criterion of a thermal fit: what it measures at one temperature, and its words.

The worst temperature is looked for over the range of the duty; the working shows the criterion there.
"""
