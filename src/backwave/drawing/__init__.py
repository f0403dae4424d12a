"""Drawings: results laid out as SVG, in the person's units.

Computes nothing but layout: a drawing reads the result it is of (`section` and `face` a place's, `part` a part's order,
`wiring` and `harness` those of the wires), and `chart` and `template` the curves and the flat outlines they are given.

    section, face, plan_view    one place as cut, from the front; the vehicle from above (screen sheets, pixels, to scale)
    part, template              a part with its dimensions at a standard scale; paper at 1:1 (sheets in millimeters)
    wiring, harness             the supply as a tree and the faces of plugs; the harness
    chart                       curves over frequency

Each has `x_sheet`, a display list (`sheet`) that any writer can replay, and `x_svg`, its text; `overlaps` says whether
the texts of a sheet touch or leave it.  Stands above the rooms and imports types of results alone; reads no file.
"""
