"""Laws, dependence and random streams: no bolts."""
