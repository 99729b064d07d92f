"""Physics that questions share: the lip on its shaft, its energizer, heat, runout, wear. Plain functions of a case."""
