"""Three pure functions. `next_request(program, state)` says what is asked; `decide(program, state, reply)` makes the
entry that a reply leads to; `apply(state, entry)` makes the state after it. No clock, no files, no terminal: time
arrives inside replies. A terminal, a script, a rehearsal, a resumed run and a recomputation are one engine with
another driver.
"""
