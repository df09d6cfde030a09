"""The job sheet: a summary as one page that opens without a network, stands beside the machine, and prints.

`sheet` is asked for the page of a piece, `index` for the one that leads to several; `frame` is what pages
have in common. `solid` packs the wall for the drawing in space, `layers` says what each layer is coloured by,
`pictures` holds the still ones. `page.html`, `index.html` and `parts.html` are the frames, `page.css` the
looks. `kept.js` keeps what is pressed, `ticks.js` and `clock.js` show it, `alarm.js` calls, `sheet.js`
begins; `index.js` is the list of pieces, `solid.js` the drawing in space, `turn.js` what hands do with it.
All words come from `gpost.words`.
"""
