"""The report: chapters as plain blocks, built once of results in the person's units; terminal, page and paper lay out the same.

    blocks  what a block and a cell are, and who reads
    wires   supply, gains, harness, the factory's wires
    work    checklist, shopping list, teardown
    sound   settings of the stages, predictions, networks and boxes that were designed
    proof   before and after, what readings taught, what is set on a processor

From: results of `assess`, with the `Audience` who is told.  Computes nothing, reads no file, knows no face.  Between assess and the faces.
"""
