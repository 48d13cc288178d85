"""How a procedure is written: rules of style, of hazard callouts, of conditions and numbers.

A rule is declared once, as a `Rule` beside the function that looks for what breaks it. `registry` has them all,
`catalogue` says of every rule of the published guides whether it is kept by the language, looked for, or left alone.
"""
