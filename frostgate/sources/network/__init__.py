"""Documents of the network: fetched whole or not at all, kept as files, served old where nothing newer comes.

Nothing here loads the HTTP libraries until the network is really asked. The one place that asks is
`frostgate.sources.network.session`.
"""

from frostgate.sources.network.documents import fetch_forecast, fetch_list, fetch_record
from frostgate.sources.network.kept import Fetched, kept_record

__all__ = ["Fetched", "fetch_forecast", "fetch_list", "fetch_record", "kept_record"]
