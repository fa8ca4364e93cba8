BOX = """\
procedure: tail-box
title: Tail box
revision: B
sample: true
equipment: {kind: test box}
consumables:
  - {name: gear oil, amount: 1.1 l}
parts:
  - {name: end plate}
  - {name: drain plug, number: TB-1}
  - {name: circlip, count: 2, number: TB-2}
  - {name: o ring, number: TB-3}
  - {name: plate bolt, count: 4}
stages:
  - name: Strip-down
    steps:
      - id: open
        say: Take off the end plate.
        fasteners: [{name: plate bolt, count: 4, thread: M6}]
        remove: [{part: end plate}, {part: plate bolt, count: 4}, {part: o ring, discard: true}]
        bag: 1
      - id: lids
        say: Take off the lid.
        fasteners: [{name: lid screw, count: 6, thread: M5}]
        bag: 2
  - name: Build-up
    steps:
      - id: circlips
        say: Fit the circlips.
        fit: [{part: circlip, count: 2, new: true}]
      - id: plate
        say: Fit the end plate.
        from_bag: 1
        fit: [{part: end plate}, {part: o ring, new: true}]
        fasteners: [{name: plate bolt, count: 4, thread: M6}]
      - id: lid
        say: Fit the lid.
        from_bag: 2
        fasteners: [{name: lid screw, count: 5, thread: M5}]
      - id: plug
        say: Fit the drain plug.
        fasteners: [{name: drain plug, count: 1, thread: M14}]
"""
