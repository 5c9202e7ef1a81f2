"""What can be asked, one module a job: a frozen request with all that may be said, and what makes its result.

Everything that a person types, a page's form holds or a logbook keeps is a request; the command line, the page, the
logbook and people who write Python call the same `run`.
"""
