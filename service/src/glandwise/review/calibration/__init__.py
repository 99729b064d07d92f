"""Rule values out of a house's own records: a test rig, a spring tester, the field.

The service's own formulas are the model; every value comes with its interval, and what the records cannot tell stays as the
house has it.
"""
