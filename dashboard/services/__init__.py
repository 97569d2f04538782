"""One function for each answer, without a page, a cache or a terminal: commands, pages, papers and Python ask here.

START HERE. A service takes an open `Book` (or the tables of one of its builds, as a `Read`) and returns the frozen
results of `models`; a command parses and prints them, `dashboard.data` keeps them for pages, a paper is drawn from
them. In the order in which data flow:

    intake        uploads handed in, what their headings mean, what was not accepted
    training      learn the forecasts of a build
    quoting       requests → quotes, by the learnt model or, of a book without jobs, by the rule of the trade
    kept_quotes   quotes kept in the book, what became of them, quoted against done
    on_site       today's job: its entries as a watch takes them
    watching      one job's catch at a moment, with all that past jobs tell of it
    replaying     finished jobs told again as they were told then
    auditing      which practices cut callbacks; one firm against the others
    reporting     quote, job and audit on paper

`build_tables` says which tables of a build each of them reads, `settings` how money is written. What may be slow to
read twice comes in as an argument (`Read`, a loader of models), so that a page can hand in its own kept copy.
"""
