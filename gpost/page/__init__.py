"""The job sheet: a summary as one page that opens without a network, stands beside the machine, and prints.

`sheet` is asked for the page; `solid` packs the wall for the drawing in space, `layers` says what each layer
is coloured by, `pictures` holds the still ones. `page.html` is the frame, `page.css` the looks, `sheet.js`
clock and ticks, `solid.js` the drawing in space; all words stand in `words.json`.
"""
