"""Many jobs in one call: each file with each foam, made by worker processes here or on a cluster, and one table of all.

    words --tasks--> Task --running--> executor --making--> Outcome --writing--> folders --rows--> table, CSV, page

A job is made by the stages as `make` makes it, whole in one process, and comes back as bytes; only the command writes.
So the same job gives the same bytes wherever it is made, and a job that is made twice changes nothing.
"""
