"""A plant of invented equipment whose faults are known, walked by several ways of planning.

What to know before quoting a figure:

- Rates, times to failure, chances of seeing and costs are assumed; ratios say something, levels do not.
- The plant was settled on the seeds 101 to 108, its uneven sites (`world.SITE_LN_SD`) among them, and so
  were the weights of `ways.JointRounds`. The figures reported are from other seeds (`table.py`).
- Fixed rounds do not read first signs again, nor what could not be read; ours does, within the same hours.
- Hard ceilings are those of the class: 12 months for electrical equipment, 24 for the rest. The critical
  class has a floor instead of one more ceiling: it may not lose, in faults caught, what the fixed rounds
  gave it. With a ceiling on each critical piece (never longer than the fixed rounds had) there is little
  left to move: an earlier version of ours then caught 8.4 % (yearly), 5.5 % (need × condition), 16.5 %
  (half-yearly) and 10.9 % (quarterly) more, on three tuning seeds and sites of even size.
- Against quarterly rounds there is a limit: with the true rate of every piece known to it, a class ceiling
  of 36 months and no floor, that version caught 19.9 % more (six tuning seeds, sites of even size).
"""
