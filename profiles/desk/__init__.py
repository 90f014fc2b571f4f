"""The desk: the whole job on a page of this machine in the browser.

    browser --HTTP--> routes -> Desks -> Desk --frames over a pipe--> bench process: hull, coarse picture
                                                                       `-fork-> stages, files of the job

The server reads no hull and makes no block. Each desk has a bench, a process of its own that keeps the hull; long work
is done in a fork of it, which is ended as soon as a newer wish comes. What a bench makes lies in a private folder
and is handed out as it lies there.
"""
