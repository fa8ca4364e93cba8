"""A procedure for the tests in which results can fail in every way that there is."""

RIG = """\
procedure: test-rig
title: Test rig
revision: A
sample: true
equipment: {kind: test rig}
concessions_by: [Ann]
parts:
  - {name: cover}
  - {name: head gasket}
  - {name: two notch gasket}
  - {name: three notch gasket}
  - {name: four notch gasket}
places: [drum side]
stages:
  - name: Strip-down
    steps:
      - {id: lock, say: Lock the supply out., gate: job}
      - id: open
        say: Take off the cover.
        remove: [{part: cover}]
        fasteners: [{name: cover bolt, count: 4, thread: M8}]
        bag: 1
      - id: tooth
        say: Measure the tooth wear.
        readings:
          - {name: tooth wear, unit: mm, limits: {most: 0.6 mm}, plausible: {most: 3 mm}}
      - id: heights
        say: Measure the piston heights.
        readings:
          - {name: first height, unit: mm, plausible: {least: 0 mm, most: 2 mm}}
          - {name: second height, unit: mm, plausible: {least: 0 mm, most: 2 mm}}
        derived:
          - {name: highest, formula: "max(first_height, second_height)", unit: mm,
             limits: {most: 0.8 mm}}
        choice:
          of: highest
          rows:
            - {up_to: 0.66 mm, part: two notch gasket}
            - {over: 0.66 mm, up_to: 0.75 mm, part: three notch gasket}
            - {over: 0.75 mm, up_to: 1 mm, part: four notch gasket}
  - name: Build-up
    steps:
      - id: gasket
        say: Lay the gasket.
        fit: [{part: head gasket, chosen_by: highest}]
      - id: cover
        say: Tighten the cover.
        from_bag: 1
        fasteners: [{name: cover bolt, count: 4, thread: M8}]
        tighten: [{fastener: cover bolt, passes: [12 N·m], torque: 24 N·m, order: star}]
      - id: hold
        say: Hold the pressure.
        readings:
          - {name: start pressure, unit: bar, plausible: {least: 0 bar, most: 1 bar}}
          - {name: final pressure, unit: bar, plausible: {least: 0 bar, most: 1 bar}}
        leak: {start: start pressure, final: final pressure, allowed: 0.015 bar}
      - {id: label, say: Fit the label.}
  - name: Hand-over
    steps:
      - {id: unlock, say: Take the lock off., lifts: [lock]}
      - id: run
        say: Run it.
        before: [{step: hold}]
        readings:
          - {name: backlash, unit: mm, times: 2, limits: {most: 0.3 mm}, concession: listed,
             plausible: {least: 0 mm, most: 2 mm}}
          - {name: insulation, unit: mm, limits: {least: 1 mm}, concession: none}
"""

LOCK, OPEN, TOOTH, HEIGHTS, GASKET, COVER, HOLD, LABEL, UNLOCK, RUN = range(1, 11)
"""The steps' numbers as they are spoken."""

CHECKED_TWICE = RIG.replace(
    "say: Fit the label.", "say: Fit the label., second_check: true"
).replace(
    "        say: Measure the tooth wear.",
    "        say: Measure the tooth wear.\n        second_check: true",
)
"""The same with second checks: of a step that records work, and of one that records none."""
