"""Jobs on an existing dask cluster, with the guarantees of this computer's own workers.

``task.py`` runs on the cluster's computers, ``scheduler.py`` in the service. Only paths and facts
travel; pictures and films lie in a folder that all computers see under the same path.
"""
