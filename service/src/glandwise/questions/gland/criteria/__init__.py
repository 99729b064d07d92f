"""One file a criterion of a gland: what it measures of a case with its hardware, and its words.

``measure`` takes the worst of all states, and says in ``which`` what state that was; ``at`` measures one state, which is
what a working shows. ``place`` gives the arguments of that state.
"""
